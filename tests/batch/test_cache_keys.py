"""What else a kept outcome depends on: where it was written to, from where, and on loops' bytes."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest
from loop_sounds import chords, write

from basslint.batch.cache import key_of
from basslint.batch.job import Job
from basslint.cli.parsing import parse
from basslint.cli.stated import run_options
from basslint.report.section import Sheet

SAMPLE = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"


@pytest.fixture
def song(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    copy = tmp_path / "a.mid"
    copy.write_bytes(SAMPLE.read_bytes())
    return copy


def key(song: Path, name: str = "text", **sheet: object) -> str | None:
    options = run_options(parse(["check", "x.mid", "--format", name]))
    job = Job(options=options, format=name, sheet=replace(Sheet(), **sheet))
    return key_of(job, job.order(song), song)


@pytest.mark.parametrize("variable", ["TERM", "COLORTERM", "NO_COLOR", "FORCE_COLOR"])
@pytest.mark.parametrize("terminal", [True, False])
def test_the_looks_of_a_terminal_count_where_one_is_written_to(
    variable: str, terminal: bool, song: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = key(song, terminal=terminal)
    monkeypatch.setenv(variable, "another")
    assert (key(song, terminal=terminal) != before) is terminal


@pytest.mark.parametrize(
    ("name", "absolute", "counts"),
    [("sarif", True, True), ("sarif", False, False), ("text", True, False), ("json", True, False)],
)
def test_the_folder_of_a_run_counts_where_paths_are_told_from_it(
    name: str, absolute: bool, counts: bool, song: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = song if absolute else Path("a.mid")
    before = key(path, name)
    other = song.parent / "other"
    other.mkdir()
    (other / "a.mid").write_bytes(song.read_bytes())
    monkeypatch.chdir(other)
    assert (key(path, name) != before) is counts


def test_a_loop_counts_by_its_bytes_and_not_by_its_time(song: Path) -> None:
    loop = write(song.parent / "loop.wav", chords(100.0))
    (song.parent / "basslint.toml").write_text('[[loop]]\nfile = "loop.wav"\n')
    before = key(song)
    os.utime(loop, (1, 1))
    assert key(song) == before
    raw = bytearray(loop.read_bytes())
    raw[-1] ^= 1
    loop.write_bytes(raw)
    os.utime(loop, (1, 1))
    assert key(song) != before


def test_a_song_s_own_path_counts_though_another_holds_the_same(song: Path) -> None:
    """Its report names it."""
    other = song.parent / "b.mid"
    other.write_bytes(song.read_bytes())
    assert key(other) != key(song)
    assert key(song.parent / "gone.mid") is None


def test_what_a_group_of_files_holds_counts(song: Path) -> None:
    folder = song.parent / "night"
    folder.mkdir()
    (folder / "a.mid").write_bytes(song.read_bytes())
    before = key(folder)
    (folder / "b.mid").write_bytes(song.read_bytes())
    both = key(folder)
    (folder / "b.mid").rename(folder / "c.mid")
    assert len({before, both, key(folder)}) == 3  # parts are named by their files
