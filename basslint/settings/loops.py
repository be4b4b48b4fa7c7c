"""Which loops of sound does a settings file name, where do they play, and how?"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from basslint.errors import UsageError
from basslint.hear.facts import MOST_LOOP_BARS, StatedLoop, parse_seconds

_KEYS = ("file", "at", "bars", "begins", "semitones", "cents")
_STRETCH = re.compile(r"\s*([1-9]\d{0,5})\s*(?:[-–]\s*([1-9]\d{0,5})\s*)?")
_BEATS = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*beats?\s*")
_MOST_SEMITONES, _MOST_CENTS = 48.0, 100.0  # a sampler's key range and its fine tuning


def read_stated_loop(table: Mapping[str, Any], place: str) -> StatedLoop:
    """Read one ``[[loop]]`` table. Raises `UsageError`, which names the ``place``."""
    unknown = [key for key in table if key not in _KEYS]
    if unknown:
        raise UsageError(f"{place}: unknown key `{unknown[0]}`.", f"It takes {', '.join(_KEYS)}.")
    file = table.get("file")
    if not isinstance(file, str) or not file:
        raise UsageError(f"{place} names no file.", 'Write file = "loops/attic.wav".')
    bars = table.get("bars")
    whole = isinstance(bars, int) and not isinstance(bars, bool)
    if bars is not None and not (whole and 1 <= bars <= MOST_LOOP_BARS):
        raise UsageError(f"{place}: “{bars}” is no length in bars.", "Write bars = 4.")
    seconds, beats = (None, None)
    if "begins" in table:
        seconds, beats = parse_begins(table["begins"], f"{place}: begins")
    return StatedLoop(
        file=file,
        at=read_bars(table["at"], f"{place}: at") if "at" in table else (),
        bars=bars,
        begins_s=seconds,
        begins_beats=beats,
        semitones=_number(table.get("semitones", 0), f"{place}: semitones", _MOST_SEMITONES),
        cents=_number(table.get("cents", 0), f"{place}: cents", _MOST_CENTS),
    )


def read_bars(text: Any, place: str) -> tuple[tuple[int, int], ...]:
    """Read ``1-16, 25-40`` as first and last bars. Raises `UsageError`."""
    parts = text.split(",") if isinstance(text, str) else [""]
    found: list[tuple[int, int]] = []
    for part in parts:
        match = _STRETCH.fullmatch(part)
        first = int(match[1]) if match else 0
        last = int(match[2] or match[1]) if match else 0
        if not match or last < first:
            raise UsageError(f"{place}: “{text}” names no bars.", 'Write at = "1-16, 25-40".')
        if any(first <= end and last >= begin for begin, end in found):
            raise UsageError(
                f"{place}: “{text}” names bars twice.", "Name each stretch of bars once."
            )
        found.append((first, last))
    return tuple(found)


def parse_begins(text: Any, place: str) -> tuple[float | None, float | None]:
    """Read ``35ms`` as seconds, or ``-1 beat`` as beats of pickup. Raises `UsageError`."""
    if not isinstance(text, str):
        raise UsageError(f"{place}: “{text}” is no place.", 'Write "35ms" or "-1 beat".')
    match = _BEATS.fullmatch(text)
    if match is None:
        return parse_seconds(text, place), None
    if float(match[1]) >= 0:
        raise UsageError(
            f"{place}: “{text}” is no pickup.",
            "Write beats before the bar line below 0, like -1 beat, or a time like 35ms.",
        )
    return None, float(match[1])


def _number(value: Any, place: str, most: float) -> float:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number:
        raise UsageError(f"{place}: “{value}” is no number.", "Write one like -3.")
    if not math.isfinite(value) or abs(value) > most:
        raise UsageError(f"{place}: “{value}” is out of range.", f"Write a number up to ±{most:g}.")
    return float(value)
