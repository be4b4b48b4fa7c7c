"""How far is the run? Shown on standard error, on a terminal only, and erased at the end."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import TextIO

FEWEST = 12  # songs; fewer are done before anybody has read the bar


@contextlib.contextmanager
def progress(songs: int, stream: TextIO) -> Iterator[Callable[[], None]]:
    """Gives a function to call after each song; it does nothing where nobody watches."""
    if songs < FEWEST or not stream.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = ("checking", BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(file=stream), transient=True) as shown:
        task = shown.add_task("", total=songs)
        yield lambda: shown.advance(task)
