"""What the terminal shows, wide and narrow."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from basslint.judging.results import Problem
from basslint.report.section import Entry, Section, Tally
from basslint.settings.run_options import RunOptions
from basslint.watch.board import Board
from basslint.watch.lines import line
from basslint.watch.orders import Source
from basslint.watch.screen import picture


def source(name: str) -> Source:
    path = Path(name)
    return Source(id=name, path=path, home=path, options=RunOptions())


def section(name: str, *found: str) -> Section:
    entries = tuple(Entry(0, ident, f"error, bar 1, {ident}: off") for ident in found)
    return Section(path=name, text="", tally=Tally(error=len(found)), entries=entries)


@pytest.fixture
def board() -> Board:
    made = Board()
    torn = Section(path="torn.mid", text="", tally=Tally(), problem=Problem("damaged", "It ends."))
    made.put(source("torn.mid"), torn, "1", "export")
    made.put(source("tea.mid"), section("tea.mid", "a", "b", "c"), "1", "export")
    made.put(source("tea.mid"), section("tea.mid", "b", "d"), "2", "export")
    made.say("ready", "Following beats.")
    return made


@pytest.mark.parametrize("width", [40, 100])
def test_songs_counts_and_changes_fit_the_width(board: Board, width: int) -> None:
    out = io.StringIO()
    Console(file=out, width=width).print(picture(board, width, 24))
    rows = [row.rstrip() for row in out.getvalue().splitlines()]
    assert max(map(len, rows)) <= width
    text = "\n".join(rows)
    assert "1 new, 2 gone, 1 stand" in text and "Following beats." in text
    assert text.index("tea.mid") < text.index("torn.mid")  # checked last, shown first
    assert next(row for row in rows if "tea.mid" in row).split()[1] == "2"


def test_what_does_not_fit_the_height_is_counted(board: Board) -> None:
    for n in range(30):
        board.put(source(f"{n}.mid"), section(f"{n}.mid"), "1", "export")
    out = io.StringIO()
    Console(file=out, width=100).print(picture(board, 100, 24))
    assert len(out.getvalue().splitlines()) <= 24 and "and 14 songs more" in out.getvalue()


def test_a_line_says_what_changed_or_what_is_wrong(board: Board) -> None:
    assert line(board.songs["tea.mid"]) == (
        "tea.mid: 2 errors, 0 warnings, 0 notes (1 new, 2 gone, 1 stand)"
    )
    assert board.songs["tea.mid"].change.gone == (
        "error, bar 1, a: off", "error, bar 1, c: off",
    )  # fmt: skip
    assert "torn.mid: " in line(board.songs["torn.mid"])


def test_a_song_that_was_written_while_it_was_checked_keeps_what_changed(board: Board) -> None:
    board.put(source("tea.mid"), section("tea.mid", "d"), "", "export")
    version = board.songs["tea.mid"].version
    board.put(source("tea.mid"), section("tea.mid", "d"), "3", "export")
    assert board.songs["tea.mid"].version == version and board.songs["tea.mid"].key == "3"
    assert board.songs["tea.mid"].change.words == "0 new, 1 gone, 1 stand"
