"""Which chords does a settings file state, and from which bar on?"""

from __future__ import annotations

import re
from typing import Any

from basslint.errors import UsageError
from basslint.hear.facts import StatedChords
from basslint.theory.chord_symbols import read_chords

_FROM = re.compile(r"^\s*bar\s+([1-9]\d{0,5})\s*$")
_HOW = 'Write "Dm Bb*2 C", or [{ from = "bar 5", chords = "Dm Bb" }, …].'


def read_stated_chords(value: Any, place: str) -> tuple[StatedChords, ...]:
    """Read a line of chords, a table with ``from`` and ``chords``, or a list of such tables.

    Raises `UsageError`, which names the ``place`` in the settings.
    """
    lines = value if isinstance(value, list) else [value]
    if not lines:
        raise UsageError(f"{place} states no chords.", _HOW)
    stretches = tuple(
        _stretch(line, f"{place}, stretch {i}" if len(lines) > 1 else place)
        for i, line in enumerate(lines, start=1)
    )
    starts = [stretch.from_bar for stretch in stretches]
    twice = [bar for bar in starts if starts.count(bar) > 1]
    if twice:
        raise UsageError(
            f"{place}: two stretches begin in bar {twice[0]}.", 'Give each its own from = "bar N".'
        )
    return stretches


def _stretch(line: Any, place: str) -> StatedChords:
    if isinstance(line, str):
        return StatedChords(1, read_chords(line, place))
    if not isinstance(line, dict) or not isinstance(line.get("chords"), str):
        raise UsageError(f"{place} is no line of chords.", _HOW)
    unknown = [key for key in line if key not in ("from", "chords")]
    if unknown:
        raise UsageError(f"{place}: unknown key `{unknown[0]}`.", "It takes `from` and `chords`.")
    begins = line.get("from", "bar 1")
    match = _FROM.match(begins) if isinstance(begins, str) else None
    if not match:
        raise UsageError(f"{place}: “{begins}” is no bar.", 'Write from = "bar 5".')
    return StatedChords(int(match[1]), read_chords(line["chords"], place))
