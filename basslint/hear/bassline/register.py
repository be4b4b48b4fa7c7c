"""Does a bass part lie an octave too high, or too low, as a whole?

The notes are right wherever their octave, and many basses climb; so register tells little, and what
it tells is graded. For too high: its lowest note, the lowest but for one in twenty, how much of its
time the other parts sound at its height or below it, and how many notes they have (the basses of
sketches of few notes lie anywhere). For too low: lowest, usual lowest, middle and top of what it
plays. Bowed strings are left out: their sections climb, and double basses are written an octave
above what they sound (W. Piston, Orchestration; from memory). So is what another instrument plays,
by its program, and no name calls a bass: the left hand of a piano, a guitar, a lead lie at their
own height.

Both are logistic models, fitted by `tests/bench/fit_register.py` on real songs, as written against
all of the bass moved by an octave, which tells what they find. A chance is under even odds.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.cover import sounding_clock
from basslint.hear.parts.names import role_by_name
from basslint.song.events import Notes
from basslint.theory.general_midi import BASS_AND_LEAD, BASSES, PIANO, STRINGS
from basslint.util.columns import distinct, median, rows_where
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST = 12  # notes of a part: fewer have no register
_RARELY = 0.05  # share of a part's notes that may lie lower than it usually comes
_MOSTLY = 0.9  # share of them that lie below its top
# Log odds: an intercept, then the columns of `high_evidence` and of `low_evidence` (fitted).
HIGH = np.array([-19.491, 0.159, 0.263, 1.249, 0.347])
LOW = np.array([12.121, -0.147, -0.199, -0.038, -0.068])
_WORTH_ASKING = 36  # C2: a line that comes lower is not told, whatever the others do
_LIKELIER = 0.5  # chance from which a part is told at all


@record(eq=False, kw_only=True)
class HighParts:
    """Bass parts that may lie an octave too high as a whole, columns [h].

    ``part`` int64 index into song.parts; ``start``, ``end`` int64 ticks of its first and last note;
    ``lowest`` int64: its lowest note but for one in twenty, a MIDI number; ``crossed`` float64
    0..1: share of its time in which other parts sound at its height or below; ``chance`` float64
    0..1 that it does, under even odds.
    """

    part: Ints
    start: Ints
    end: Ints
    lowest: Ints
    crossed: Floats
    chance: Floats


def has_own_register(program: int | None, name: str) -> bool:
    """Whether a part of this sound, General MIDI from 0, lies where it lies: strings, and others.

    Others: sounds that are no basses, of a part that is not named as one. The first piano is also
    what a file says that says nothing.
    """
    if program is None or program in (PIANO, BASS_AND_LEAD, *BASSES):
        return False
    named = role_by_name(name)
    return program in STRINGS or named is None or named[0] != "bass"


def hear_high_parts(
    bass: Notes, others: Notes, left_out: Collection[int] = (), by_program: Collection[int] = ()
) -> HighParts:
    """The lowest part of ``bass`` if it is likelier than not to lie an octave too high.

    ``others``: notes of the pitched parts that are no basses. Both in order of time. ``left_out``:
    indexes of parts whose register tells nothing; where the lowest is one of them, or one lies as
    low, none is told. ``by_program``: indexes of parts among ``others`` that play a bass sound of
    General MIDI; where one of them lies lower, it is the bass there, and none is told.
    """
    rows: list[tuple[int, int, int, int, float, float]] = []
    lines = [rows_where(bass.part == part) for part in bass.parts]
    usual = [_usual_lowest(bass.pitch[mine]) for mine in lines]
    lowest = min(usual, default=0)
    if lowest >= _WORTH_ASKING:
        line = bass.take(lines[usual.index(lowest)])
        part = int(line.part[0])
        as_low = {int(bass.part[m[0]]) for m, u in zip(lines, usual, strict=True) if u == lowest}
        if len(line) >= FEWEST and as_low.isdisjoint(left_out):
            found = high_evidence(line, others)
            chance = _chance(HIGH, found)
            if chance > _LIKELIER and not _lies_below(lowest, others, by_program):
                first, last = int(line.start[0]), int(line.end.max())
                rows.append((part, first, last, lowest, float(found[2]), chance))
    return _table(rows) if rows else _NONE


def _table(rows: list[tuple[int, int, int, int, float, float]]) -> HighParts:
    """Rows as columns."""
    table = list(zip(*rows, strict=True)) if rows else [()] * 6
    return HighParts(
        part=np.array(table[0], dtype=np.int64),
        start=np.array(table[1], dtype=np.int64),
        end=np.array(table[2], dtype=np.int64),
        lowest=np.array(table[3], dtype=np.int64),
        crossed=np.array(table[4], dtype=np.float64),
        chance=np.array(table[5], dtype=np.float64),
    )


_NONE = _table([])


def chance_of_low(pitch: NDArray[np.int16]) -> float:
    """How likely a bass part of these notes, MIDI numbers [n], lies an octave too low as a whole.

    Under even odds, 0 to 1; 0 where there are too few of them.
    """
    return _chance(LOW, low_evidence(pitch)) if len(pitch) >= FEWEST else 0.0


def high_evidence(line: Notes, others: Notes) -> Floats:
    """What speaks for a part that lies an octave too high, [4].

    Its lowest note and its lowest but for one in twenty, MIDI numbers; share of its time in which
    others sound at its height or below it; doublings of the number of their notes.
    """
    lowest = float(line.pitch.min())
    usual = float(_usual_lowest(line.pitch))
    return np.array([lowest, usual, _crossed(line, others), np.log2(1.0 + len(others))])


def low_evidence(pitch: NDArray[np.int16]) -> Floats:
    """What speaks for a part that lies an octave too low, [4], MIDI numbers.

    Its lowest note, its lowest but for one in twenty, its middle one, and its top but for one in
    ten.
    """
    top = int(_MOSTLY * (len(pitch) - 1))
    high = np.partition(pitch, top)[top]
    return np.array([pitch.min(), _usual_lowest(pitch), median(pitch), high], dtype=np.float64)


def _chance(weights: Floats, evidence: Floats) -> float:
    return float(1.0 / (1.0 + np.exp(-(weights[0] + weights[1:] @ evidence))))


def _lies_below(pitch: int, others: Notes, parts: Collection[int]) -> bool:
    """Whether one of the parts among ``others`` lies lower than ``pitch``."""
    played = (others.pitch[others.part == part] for part in parts)
    return any(len(own) >= FEWEST and _usual_lowest(own) < pitch for own in played)


def _usual_lowest(pitch: NDArray[np.int16]) -> int:
    """The pitch below which no more than one note in twenty lies."""
    at = int(_RARELY * len(pitch))
    return int(np.partition(pitch, at)[at])


def _crossed(line: Notes, others: Notes) -> float:
    """Share of the time of ``line`` in which ``others`` sound at its height or below it."""
    length = line.end - line.start
    under = 0.0
    for pitch in distinct(line.pitch).tolist():
        below = others.take(others.pitch <= pitch)
        if len(below):
            clock = sounding_clock(below.start, np.maximum(below.end, below.start + 1))
            mine = line.pitch == pitch
            under += float((clock(line.end[mine]) - clock(line.start[mine])).sum())
    return under / max(float(length.sum()), 1.0)
