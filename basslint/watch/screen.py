"""What is told on a terminal: one live screen of songs, counts and what the last export changed."""

from __future__ import annotations

from typing import TextIO

from rich import box
from rich.console import Console, Group
from rich.live import Live
from rich.table import Table
from rich.text import Text

from basslint.report.drawing import marks
from basslint.rulebook.model import LEVELS
from basslint.util.text import harmless
from basslint.watch.board import Board, Standing
from basslint.watch.plan import Plan

NARROW = 60  # columns: below, what changed stands in a line of its own
_AROUND = 6  # lines of the screen that are no songs


async def show(plan: Plan, board: Board, address: str, stream: TextIO) -> None:
    """Keep the screen true, for ever."""
    console = Console(file=stream, highlight=False)
    console.print(f"Following {harmless(str(plan.root))} on this page:", markup=False)
    console.print(address, soft_wrap=True, markup=False)
    console.print("Ctrl-C ends it.", style="dim")
    changed = board.listen()
    with Live(console=console, auto_refresh=False) as live:
        while True:
            live.update(picture(board, console.width, console.height), refresh=True)
            await changed.wait()
            changed.clear()


def picture(board: Board, width: int, height: int) -> Group:
    """All songs that fit, those checked last first, and what goes on."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=False)
    table.add_column("song", overflow="fold")
    for level in LEVELS:
        sign = marks.LEVEL_MARKS[level].sign
        table.add_column(sign if width < NARROW else f"{sign} {level}s", justify="right")
    if width >= NARROW:
        table.add_column("since the last export")
    latest = sorted(board.songs.values(), key=lambda s: -s.version)
    most = max(1, (height - _AROUND) // (2 if width < NARROW else 1))
    for standing in latest[:most]:
        _add(table, standing, width)
    parts: list[Table | Text] = [table] if latest else []
    if len(latest) > most:
        parts.append(Text(f"and {marks.counted(len(latest) - most, 'song')} more", "dim"))
    style = marks.STYLES["error"] if board.state.mood == "trouble" else ""
    parts.append(Text(harmless(board.state.words), style))
    return Group(*parts)


def _add(table: Table, standing: Standing, width: int) -> None:
    section = standing.section
    song = Text(harmless(section.path))
    if section.problem is not None:
        verdict = Text(section.problem.verdict, marks.STYLES["error"])
        table.add_row(song, "", "", "", *([verdict] if width >= NARROW else []))
        if width < NARROW:
            table.add_row(verdict, "", "", "")
        return
    counts = [_count(section.tally.of(level), marks.STYLES[level]) for level in LEVELS]
    change = standing.change
    words = Text("")
    if change is not None:
        words = Text(f"{change.words} ({change.clock})")
    table.add_row(song, *counts, *([words] if width >= NARROW else []))
    if width < NARROW and change is not None:
        table.add_row(Text(f"  {change.words}", "dim"), "", "", "")


def _count(number: int, style: str) -> Text:
    return Text(str(number), style if number else "dim")
