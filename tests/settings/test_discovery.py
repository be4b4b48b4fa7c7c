"""Which settings hold for a song, for a folder, and for files that are read as one."""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.settings.discovery import files_together, find_file, settings_for

NAMES = ("low.mid", "chords.MIDI", "low.mended.mid", "notes.txt")


@pytest.fixture
def night(tmp_path: Path) -> Path:
    """A folder with two songs, a mended copy, a text, and a folder that is called like a song."""
    folder = tmp_path / "night"
    (folder / "old.mid").mkdir(parents=True)
    for name in NAMES:
        (folder / name).touch()
    return folder


def test_a_folder_s_own_settings_hold_for_it(night: Path) -> None:
    outer, inner = night.parent / "basslint.toml", night / "basslint.toml"
    outer.touch()
    assert find_file(night) == find_file(night / "low.mid") == outer
    inner.touch()
    assert find_file(night) == find_file(night / "low.mid") == inner
    assert find_file(night.parent) == outer


def test_settings_that_are_named_stand_for_those_above_a_song(night: Path) -> None:
    (night / "basslint.toml").write_text('gate = "note"')
    (night / "other.toml").write_text('gate = "warning"')
    assert settings_for(night / "low.mid", night / "other.toml").gate == "warning"
    assert settings_for(night / "low.mid").gate == "note"


@pytest.mark.parametrize(
    ("together", "read"),
    [
        ("", ["chords.MIDI", "low.mid"]),  # all songs of the folder, but no mended copy
        ('together = ["night/*.mid"]', ["low.mid"]),
        ('together = ["day/*.mid", "night/c*"]', ["chords.MIDI"]),
        ('together = ["day/*.mid"]', ["chords.MIDI", "low.mid"]),
    ],
)
def test_the_files_that_are_read_together_for_a_folder(
    night: Path, together: str, read: list[str]
) -> None:
    (night.parent / "basslint.toml").write_text(together)
    found = files_together(night, settings_for(night))
    assert [path.name for path in found] == read


def test_no_files_are_read_together_where_there_is_no_folder(tmp_path: Path) -> None:
    assert files_together(tmp_path / "gone", settings_for(tmp_path / "gone")) == ()


@pytest.mark.parametrize(
    ("files", "members", "gate"),
    [
        ("night/low.mid", (), "note"),
        ("low.mid", (), "note"),
        ("night/low.mid", ("chords.MIDI",), "error"),  # the command line names the others
        ("night/low.mid", ("chords.MIDI", "low.mid"), "note"),
        ("night/low.mended.mid", (), "error"),  # no part of it
        ("night", (), "note"),
    ],
)
def test_what_is_said_of_one_file_holds_for_all_that_are_read_with_it(
    night: Path, files: str, members: tuple[str, ...], gate: str
) -> None:
    text = f'[[song]]\nfiles = "{files}"\ngate = "note"\n'
    (night.parent / "basslint.toml").write_text(text)
    named = tuple(night / name for name in members)
    assert settings_for(night, members=named).gate == gate
