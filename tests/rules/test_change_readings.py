"""By how much a bass is late or early at a change of chord, in quarters, counted by hand.

Two chords, a bar each, over and over; what is late or early stands in their third turn.
Which tones a chord has: Open Music Theory. What a push is, and what hangs over: common practice, no
source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.readings.base import registered

CHORDS = {
    "C": "C3+E3+G3",
    "G": "G3+B3+D4",
    "Am": "A3+C4+E4",
    "Dm": "D3+F3+A3",
}
ROOTS = {"C": "C2", "G": "G1", "Am": "A1", "Dm": "D2"}


def read(first: str, second: str, line: str, name: str) -> list[object]:
    """A reading of the notes of two bars, the fifth and the sixth of eight."""
    keys = f"keys | {CHORDS[first]}:4 | {CHORDS[second]}:4 |*4"
    plain = f"{ROOTS[first]}:3.5 .:.5 | {ROOTS[second]}:3.5 .:.5 |"
    chart = heard(f"tempo 120\n{keys}\nsub | {plain}*2 | {line} || {plain}*1\n")
    inside = (chart.song.grid.bar_of(chart.bass.start) // 2) == 2
    return registered("bass-note")[name].column(chart)[inside].tolist()


LATE = [
    ("C", "G", "C2:3.5 .:.5 | G1:3.5 .:.5", [None, None]),
    ("C", "G", "C2:4~1 | .:1 G1:2.5 .:.5", [1.0, None]),
    ("C", "G", "C2:4~.5 | .:1.5 G1:2.5", [0.5, None]),  # it is let go of before the new one
    ("C", "G", "C2:4~2 | G1:3.5 .:.5", [0.0, None]),  # the new one is struck on time over it
    ("C", "G", "C2:4~2 | .:2 B1:1.5 .:.5", [None, None]),  # it goes elsewhere
    ("C", "G", "C2:2 E2:2~1 | .:1 G1:2.5 .:.5", [None, 1.0, None]),  # E is a tone of C alone
    ("Am", "C", "A1:2 C2:2~1 | .:1 C2:2.5 .:.5", [None, -2.0, None]),  # early, as below
    ("Dm", "G", "D2:2 F2:2~1 | .:1 G1:2.5 .:.5", [None, None, None]),  # F is the seventh of G
    ("Dm", "G", "D2:2 A1:2~1 | .:1 G1:2.5 .:.5", [None, 1.0, None]),
]
EARLY = [
    ("G", "Am", "G1:2 A1:2~1 | .:1 A1:2.5 .:.5", [None, -2.0, None]),
    ("G", "Am", "G1:3.5 A1:.5~3 | .:4", [None, -0.5]),  # a push
    ("G", "Am", "G1:3.9 A1:.1~3 | .:4", [None, None]),  # a hair is on time
    ("G", "Am", "G1:2 A1:2 | A1:3.5 .:.5", [None, None, None]),  # it ends with its chord
    ("G", "Am", "G1:2 A1:2~.1 | .:.1 A1:3.4 .:.5", [None, None, None]),  # … or a hair later
    ("G", "Am", "G1:1 B1:1 A1:2~1 | .:1 A1:2.5 .:.5", [None, None, -2.0, None]),
    ("G", "Am", "B1:2 A1:2~1 | .:1 A1:2.5 .:.5", [None, None, None]),  # G never had its root
    ("C", "G", "C2:2 G1:2~1 | .:1 G1:2.5 .:.5", [None, -2.0, None]),  # a tone of both
]


@pytest.mark.parametrize(("first", "second", "line", "lags"), [*LATE, *EARLY])
def test_a_note_is_so_far_behind_the_change_of_chord_that_it_plays(
    first: str, second: str, line: str, lags: list[float | None]
) -> None:
    expected = [np.nan if lag is None else lag for lag in lags]
    assert read(first, second, line, "change_lag") == pytest.approx(expected, nan_ok=True)
    sure = read(first, second, line, "change_certainty")
    assert [not np.isnan(chance) for chance in sure] == [lag is not None for lag in lags]


@pytest.mark.parametrize(
    ("first", "second", "line", "both"),
    [
        ("C", "G", "C2:4~1 | .:1 G1:2.5 .:.5", [False, False]),
        ("Am", "C", "A1:2 E2:2~1 | .:1 C2:2.5 .:.5", [False, False, False]),
        ("C", "G", "C2:2 G1:2~1 | .:1 G1:2.5 .:.5", [False, True, False]),
        ("G", "Am", "G1:2 A1:2~1 | .:1 A1:2.5 .:.5", [False, False, False]),
    ],
)
def test_whether_the_late_or_early_tone_is_of_both_chords(
    first: str, second: str, line: str, both: list[bool]
) -> None:
    assert read(first, second, line, "tone_of_both") == both


def test_a_lag_is_told_in_beats_of_the_meter() -> None:
    assert read("C", "G", "C2:4~1.5 | .:1.5 G1:2.5", "lag_in_words")[0] == "1.5 beats"
    keys = f"keys | {CHORDS['C']}:3 | {CHORDS['G']}:3 |*4"
    line = "sub | C2:2.5 .:.5 | G1:2.5 .:.5 |*2 | C2:3~1 | .:1 G1:2 || C2:2.5 .:.5 | G1:2.5 .:.5\n"
    chart = heard(f"tempo 120\nmeter 6/8\n{keys}\n{line}")
    words = registered("bass-note")["lag_in_words"].column(chart).tolist()
    assert words[4] == "2 beats"  # a quarter is two eighths
