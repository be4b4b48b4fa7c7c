"""What does the terminal say, as plain lines for a log?"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TextIO

from basslint.report.drawing import marks
from basslint.rulebook.model import LEVELS
from basslint.util.text import harmless
from basslint.watch.board import Board, Standing
from basslint.watch.plan import Plan


async def tell(plan: Plan, board: Board, address: str, stream: TextIO) -> None:
    """Write a line for each check and each trouble, for ever."""
    _write(stream, f"Following {plan.root} on {address}")
    last_seen: dict[str, int] = {}
    words = ""
    changed = board.listen()
    while True:
        for standing in news(board, last_seen):
            _write(stream, line(standing))
        if board.state.mood in ("trouble", "waiting") and board.state.words != words:
            _write(stream, board.state.words)
        words = board.state.words
        await changed.wait()
        changed.clear()


def news(board: Board, last_seen: dict[str, int]) -> Iterator[Standing]:
    """Songs that were checked since they were last shown; ``last_seen``: the versions shown."""
    for ident, standing in board.songs.items():
        if last_seen.get(ident) != standing.version:
            last_seen[ident] = standing.version
            yield standing


def line(standing: Standing) -> str:
    """A song in one line: what stands in it, and what its last export changed."""
    section, change = standing.section, standing.change
    if section.problem is not None:
        return f"{section.path}: {section.problem.verdict}: {section.problem.message}"
    found = [marks.counted(section.tally.of(each), each) for each in LEVELS]
    text = f"{section.path}: {', '.join(found)}"
    return f"{text} ({change.words})" if change is not None else text


def _write(stream: TextIO, text: str) -> None:
    stream.write(harmless(f"{time.strftime('%H:%M:%S')} {text}\n"))
    stream.flush()
