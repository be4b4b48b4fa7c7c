"""Whole basses, and stretches of them, that lie semitones off the other parts."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
ROOTS = (33, 29, 36, 31)  # A1, F1, C2, G1
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def line(moved: int, bars: int) -> str:
    """The roots of the loop, all moved by some semitones, for some bars."""
    notes = [ROOTS[bar % 4] + moved for bar in range(bars)]
    return " | ".join(f"{NAMES[p % 12]}{p // 12 - 1}:2x2" for p in notes)


@pytest.mark.parametrize("moved", [-6, -3, -2, -1, 1, 2, 3, 6])
def test_a_whole_bass_that_lies_off_is_told_with_its_shift(moved: int) -> None:
    shifts = heard(f"{KEYS}sub | {line(moved, 32)} |").shifts
    assert len(shifts.start) == 1 and bool(shifts.whole[0])
    assert abs(int(shifts.semitones[0])) == abs(moved)
    assert (int(shifts.semitones[0]) - moved) % 12 == 0
    assert shifts.certainty[0] > 0.5


@pytest.mark.parametrize(
    "sub",
    [
        line(0, 32),
        " | ".join(["A1:3.5 .:.5"] * 32),  # one root all through
        " | ".join(["A1:2 A2:1.5 .:.5", "F1:2 C2:1.5 .:.5", "C2:4", "G1:2 B1:1.5 .:.5"] * 8),
    ],
)
def test_a_right_line_is_not_off(sub: str) -> None:
    assert len(heard(f"{KEYS}sub | {sub} |").shifts.start) == 0


def test_a_stretch_of_eight_bars_is_told_where_it_lies() -> None:
    sub = " | ".join((line(0, 16), line(1, 8), line(0, 8)))
    chart = heard(f"{KEYS}sub | {sub} |")
    shifts, bar = chart.shifts, 4 * chart.song.division
    assert shifts.semitones.tolist() == [1] and not bool(shifts.whole[0])
    assert int(shifts.start[0]) <= 16 * bar < 24 * bar <= int(shifts.end[0])


def test_it_is_one_finding_and_the_notes_that_it_explains_stay_silent() -> None:
    found = judged(f"{KEYS}sub | {line(1, 32)} |", read_book()).findings
    (only,) = [f for f in found if f.family == "harmony"]
    assert (only.rule, only.level) == ("bass-shifted", "error")
    assert only.message.startswith("Sub lies a semitone above the other parts for 32 bars")
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 64)
    assert {(e.before or 0) - (e.after or 0) for e in only.fix.edits} == {1}


def test_too_few_notes_tell_nothing() -> None:
    assert len(heard(f"{KEYS}sub | {line(1, 4)} |").shifts.start) == 0
