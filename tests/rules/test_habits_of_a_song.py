"""What the song itself shows: where its fills close fours, and whether two basses are one line.

Common practice, no source.
"""

from __future__ import annotations

import warnings

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"
SUB = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
LEAD = "lead | E5:3 .:1 | F5:3 .:1 | G5:3 .:1 | D5:2 .:2 |*4\n"
BOOK = read_book()


def with_fills(*bars: int, marker: str = "") -> str:
    """Sixteen bars, some of which end with a fill: another one each time, so none is a copy."""
    fills = ("D2:1/6@60-110x6", "D2:1/8@60-110x8", "A2:1/6@60-110x6", "A2:1/8@60-110x8")
    drums = ["C2 D2 C2 D2"] * 16
    for bar, fill in zip(bars, fills, strict=False):
        drums[bar - 1] = f"C2 D2 C2 {fill}"
    return f"tempo 140\n{marker}{KEYS}{LEAD}sub | {SUB} |*4\ndrums | {' | '.join(drums)} |\n"


def told(text: str, rule: str) -> list[tuple[str, int]]:
    return [(f.level, f.where.bar) for f in judged(text, BOOK).findings if f.rule == rule]


@pytest.mark.parametrize(
    ("bars", "marker", "level"),
    [
        ((7, 4, 12), "", "warning"),  # both others close fours
        ((7, 4, 10), "", "warning"),  # half of them
        ((7,), "", "note"),  # nothing else shows where this song has them
        ((7,), "marker 1 Verse\nmarker 9 Hook\n", "warning"),  # but the file says it
    ],
)
def test_a_fill_out_of_place_is_loud_where_the_song_shows_the_place(
    bars: tuple[int, ...], marker: str, level: str
) -> None:
    assert (level, 7) in told(with_fills(*bars, marker=marker), "fill-off-phrase")


def test_of_the_other_fills_it_is_asked_how_many_close_fours() -> None:
    share = registered("fill")["others_in_place"].column(heard(with_fills(4, 7, 12)))
    assert share.tolist() == [0.5, 1.0, 0.5]
    assert registered("fill")["others_in_place"].column(heard(with_fills(7))).tolist() == [0.0]


@pytest.mark.parametrize(
    ("others", "share", "level"),
    [
        ("A2:3.5 .:.5 | F2:3.5 .:.5 | C3:3.5 .:.5 | G2:3.5 .:.5", 0.9375, "warning"),
        ("A2:3.5 .:.5 | A2:3.5 .:.5 | E3:3.5 .:.5 | G2:3.5 .:.5", 0.5625, "warning"),
        ("E2:3.5 .:.5 | A2:3.5 .:.5 | E3:3.5 .:.5 | G2:3.5 .:.5", 0.375, "note"),
    ],
)
def test_a_second_bass_that_mostly_plays_other_notes_is_a_line_of_its_own(
    others: str, share: float, level: str
) -> None:
    first = "A2:3.5 .:.5 | C3:3.5 .:.5 | C3:3.5 .:.5 | G2:3.5 .:.5"
    text = f"tempo 140\n{KEYS}low-bass | {SUB} |*4\nmid-bass | {first} || {others} |*3\n"
    shares = registered("bass-note")["doubled_share"].column(heard(text))
    assert set(shares[~(shares != shares)].tolist()) == {share}
    levels = [found for found, _ in told(text, "two-basses")]
    assert levels and set(levels) == {level}


def test_late_rolls_are_asked_for_where_each_hit_is_there_thrice_without_a_complaint() -> None:
    """Most gaps are then none, and so is the step: nothing may be divided by it."""
    rolls = [
        "C2 D2 D2+D2+D2:1/8@60-110x12 .:.5" if bar % 4 == 3 else "C2 D2 C2 D2" for bar in range(16)
    ]
    chart = heard(f"tempo 140\n{KEYS}sub | {SUB} |*4\ndrums | {' | '.join(rolls)} |\n")
    assert chart.fills.step.tolist() == [0.0] * 4
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        registered("fill")["late_in_turn"].column(chart)
