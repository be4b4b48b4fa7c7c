"""Are facts that a program states well said? Texts are read as in the settings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from basslint.errors import UsageError
from basslint.hear.facts import (
    MOST_SECONDS,
    MOST_SEMITONES,
    MOST_TRANSPOSED,
    Facts,
    parse_key,
    parse_pitch,
)
from basslint.theory.general_midi import HIGHEST_KEY
from basslint.util.records import names_of
from basslint.util.text import nearest

_POSITIVE = {"decay_s": MOST_SECONDS, "glide_time_s": MOST_SECONDS, "bend_range": MOST_SEMITONES}
_BETWEEN = {
    "sound_pitch": (0, HIGHEST_KEY),
    "root_key": (0, HIGHEST_KEY),
    "transpose": (-MOST_TRANSPOSED, MOST_TRANSPOSED),
    "cents": (-100 * MOST_TRANSPOSED, 100 * MOST_TRANSPOSED),
}


def read_facts(stated: Mapping[str, object], middle_c: int = 4) -> dict[str, Any]:
    """Fields of `Facts` from values by their names; ``middle_c``: the octave of MIDI note 60.

    Texts stand for what they say: ``key="F# minor"``, ``chords="Dm Bb F C"``, ``root_key="C3"``,
    and one part for a tuple of one. Raises `UsageError` for a name that is none of them, a text
    that cannot be read, and a number that is none or out of its bounds.
    """
    return {name: _read(name, value, middle_c) for name, value in stated.items()}


def _read(name: str, value: object, middle_c: int) -> Any:
    if name not in names_of(Facts):
        near = nearest(name, names_of(Facts))
        raise UsageError(
            f"“{name}” is no fact that can be stated.",
            f"Did you mean {near}?" if near else f"There are {', '.join(names_of(Facts))}.",
        )
    if name in ("bass", "harmony"):
        return (value,) if isinstance(value, str) else tuple(_listed(name, value))
    if isinstance(value, str):
        if name == "key":
            return parse_key(value, name)
        if name == "root_key":
            return parse_pitch(value, name, middle_c)
        if name == "chords":
            from basslint.settings.chords import read_stated_chords

            return read_stated_chords(value, name)
    if name in _POSITIVE:
        number = _number(name, value)
        if not 0 < number <= _POSITIVE[name]:
            raise UsageError(
                f"{name}: {number:g} is out of bounds.",
                f"Give a number above 0 and at most {_POSITIVE[name]:g}.",
            )
        return number
    if name in _BETWEEN:
        number, (least, most) = _number(name, value), _BETWEEN[name]
        if not least <= number <= most:
            raise UsageError(
                f"{name}: {number:g} is out of bounds.",
                f"Give a number from {least:g} to {most:g}.",
            )
        return number
    return value


def _listed(name: str, value: object) -> list[str]:
    if isinstance(value, list | tuple) and all(isinstance(part, str) for part in value):
        return list(value)
    raise UsageError(f"{name}: {value!r} names no parts.", 'Give names or numbers, like "#3".')


def _number(name: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise UsageError(f"{name}: {value!r} is no number.", "Give one; `Facts` names its unit.")
    return float(value)
