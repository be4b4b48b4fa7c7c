"""Letting findings stand: what is written, into which file, and what is left out and told."""

from __future__ import annotations

import datetime
import os
import tomllib
from pathlib import Path

import pytest

from basslint.batch.accept import Permit, accept, waive
from basslint.errors import UsageError
from basslint.settings.run_options import RunOptions

SAMPLE = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"
STOOD = Permit("Stood when we began")
ASKED = RunOptions()
ALL = 3  # rules that the song breaks, two with an error, one with a warning


@pytest.fixture
def beats(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a song that breaks rules, its settings, and other ones."""
    folder = tmp_path / "beats"
    folder.mkdir()
    (folder / "tea.mid").write_bytes(SAMPLE.read_bytes())
    for name in ("basslint.toml", "other.toml"):
        (folder / name).write_text("# ours\n")
    monkeypatch.chdir(folder)
    return folder


def waived(home: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = tomllib.loads(home.read_text()).get("waive", [])
    return found


def test_waivers_go_into_the_settings_that_are_named(beats: Path) -> None:
    other, song, until = beats / "other.toml", beats / "tea.mid", datetime.date(2031, 5, 4)
    options = RunOptions(settings_file=other)
    assert waive(options, song, "off-root", Permit("So far", until)).written == ((other, 1),)
    (one,) = waived(other)
    assert (one["rule"], one["song"], one["reason"], one["until"]) == (
        "off-root", "tea.mid", "So far", until,
    )  # fmt: skip
    assert accept(options, [song], STOOD).written == ((other, ALL - 1),)
    assert len(waived(other)) == ALL and "until" not in waived(other)[-1]
    assert (beats / "basslint.toml").read_text() == "# ours\n"


def test_a_file_is_not_touched_where_nothing_stands(beats: Path) -> None:
    home = beats / "basslint.toml"
    accept(ASKED, [beats / "tea.mid"], STOOD)
    before = home.read_bytes(), home.stat().st_mtime_ns
    done = accept(ASKED, [beats / "tea.mid"], STOOD)
    assert (done.written, done.left_out) == (((home, 0),), ())
    assert (home.read_bytes(), home.stat().st_mtime_ns) == before


def test_a_song_that_cannot_be_read_is_told_as_such(beats: Path) -> None:
    cut = beats / "cut.mid"
    cut.write_bytes(SAMPLE.read_bytes()[:60])
    with pytest.raises(UsageError, match=r"cut\.mid: The file ends|cut\.mid: Track") as caught:
        waive(ASKED, cut, "off-root", STOOD)
    assert caught.value.advice
    done = accept(ASKED, [cut, beats / "tea.mid"], STOOD)
    (told,) = done.left_out
    assert told.startswith(f"{cut}: ") and told.endswith(" It was left out.")
    assert done.written == ((beats / "basslint.toml", ALL),)


@pytest.mark.skipif(os.name != "posix", reason="names that are no text are POSIX's")
def test_a_song_that_no_text_can_name_is_left_out_and_waived_for_no_other(beats: Path) -> None:
    odd = beats / os.fsdecode(b"b\xff.mid")
    try:
        odd.write_bytes(SAMPLE.read_bytes())
    except OSError:  # a file system that takes text alone
        pytest.skip("no such names here")
    songs = [beats / "tea.mid", odd]
    done = accept(ASKED, songs, STOOD)
    (told,) = done.left_out
    assert "its name is not UTF-8" in told and done.written == ((beats / "basslint.toml", ALL),)
    assert {w["song"] for w in waived(beats / "basslint.toml")} == {"tea.mid"}


def test_a_song_of_a_group_is_waived_with_its_folder_alone(beats: Path) -> None:
    (beats / "basslint.toml").write_text('together = ["*.mid"]\n')
    with pytest.raises(UsageError, match="read together with the other files") as caught:
        waive(ASKED, beats / "tea.mid", "off-root", STOOD)
    assert caught.value.advice == "Name the folder."
    assert not waived(beats / "basslint.toml")


@pytest.mark.parametrize(
    ("gate", "taken", "below"), [(None, ALL, 0), ("error", ALL - 1, 1), ("note", ALL, 0)]
)
def test_what_is_too_mild_to_fail_a_run_is_counted(
    beats: Path, gate: str | None, taken: int, below: int
) -> None:
    done = accept(RunOptions(gate=gate), [beats / "tea.mid"], STOOD)  # type: ignore[arg-type]
    assert (done.written[0][1], done.below) == (taken, below)
