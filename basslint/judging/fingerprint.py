"""Which finding is the same one in another export of the song, and which is its cause's repeat?"""

from __future__ import annotations

import re
from collections.abc import Iterable

from basslint.judging.results import Finding
from basslint.song.events import given_name
from basslint.song.timing import BarGrid
from basslint.util.records import replace

# A number in a message with its unit; the octave of a pitch name (F#1, Eb-1) is none.
_MEASURED = r"(?<![A-Za-z#♯♭0-9.])[-−+]?\d+(?:\.\d+)?(?: \w+)?"
# The octave of a bass note's name; what chord symbols count (C5, G6, D7) lies above.
_OCTAVE = r"(?<![A-Za-z])([A-G][#b♯♭]?)(-\d|[0-4])(?!\d)"
_SCIENTIFIC = 4  # octave of MIDI note 60
_SLOTS = 24  # of a beat: every usual grid falls on one, and played timing stays within it


def numbered(
    findings: Iterable[Finding], grid: BarGrid, middle_c: int = _SCIENTIFIC
) -> tuple[Finding, ...]:
    """Give findings their cause (shared by repeats of one fault) and a fingerprint that lasts.

    A fingerprint is made of what is sounded and its place within the bar, never of ticks, bars or
    measured values, so that it survives an inserted bar and an export with other ticks; the count
    of equal ones before keeps the copies of a loop apart. ``middle_c``: the octave that messages
    print for MIDI note 60, which changes no fingerprint.
    """
    seen: dict[str, int] = {}
    result: list[Finding] = []
    for f in findings:
        name = f.part.name if f.part else ""
        words = measureless(_scientific(first_sentence(f.message), middle_c))
        cause = _hash(f"{f.rule}|{name}|{f.pitch}|{words}")[:16]
        slot = round((f.where.beat - 1) * _SLOTS) % (_SLOTS * int(grid.numerator[f.where.bar - 1]))
        place = f"{f.rule}|{given_name(name)}|{f.pitch}|{words}|{slot}"
        nth = seen[place] = seen.get(place, 0) + 1
        result.append(replace(f, cause=cause, fingerprint=_hash(f"{place}|{nth}")[:32]))
    return tuple(result)


def first_sentence(text: str) -> str:
    """What is off; why it is held to be so follows, and changes with what other bars play."""
    return text.partition(". ")[0]


def measureless(text: str) -> str:
    """A sentence without its measured numbers and their units."""
    return re.sub(_MEASURED, "", text)


def _scientific(text: str, middle_c: int) -> str:
    """A sentence with the octaves of scientific pitch notation, whatever the user's gear prints."""
    if middle_c == _SCIENTIFIC:
        return text
    return re.sub(_OCTAVE, lambda m: f"{m[1]}{int(m[2]) + _SCIENTIFIC - middle_c}", text)


def _hash(text: str) -> str:
    import hashlib  # a check without findings asks for none

    return hashlib.sha256(text.encode()).hexdigest()
