"""Which rules may a file be judged by: the built-in ones and those that its settings name?"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from basslint.rulebook.loader import Rule, read_book
from basslint.settings.model import Settings


def book_for(settings: Settings) -> tuple[Rule, ...]:
    """The built-in rules with the house rules and plug-ins of the settings."""
    return _book(settings.house, settings.plug_ins, _state_of(settings.house))


def _state_of(folders: Iterable[Path]) -> tuple[tuple[str, int, int], ...]:
    """Names, times and sizes of the pages in folders, to see whether one was edited."""
    pages = sorted(page for folder in folders for page in folder.rglob("*.md"))
    return tuple((str(p), s.st_mtime_ns, s.st_size) for p in pages for s in [p.stat()])


@lru_cache(64)
def _book(
    house: tuple[Path, ...], plug_ins: tuple[str, ...], _state: tuple[tuple[str, int, int], ...]
) -> tuple[Rule, ...]:
    return read_book(house, plug_ins)
