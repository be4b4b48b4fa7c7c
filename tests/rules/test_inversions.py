"""Which chords over another tone than their root are meant, and when a change is everybody's.

Inversions in a line by step, the cadential six-four, the dominant seventh whose root the bass alone
has, what is early or late at a change: Open Music Theory.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

BOOK = {rule.name: rule for rule in read_book()}
CHORDS = {
    "C": "C4+E4+G4",
    "F": "F3+A3+C4",
    "G": "G3+B3+D4",
    "Am": "A3+C4+E4",
    "Bdim": "B3+D4+F4",
    "Dm": "D3+F3+A3",
    "E": "E3+G#3+B3",
    "Em": "E3+G3+B3",
}


def bars_told(rule: str, chords: str, sub: str, more: str = "") -> list[tuple[str, int]]:
    """What a rule tells of four bars, level and bar; after them a loop stands on its roots."""
    keys = " | ".join(f"{CHORDS[name]}:4" for name in chords.split())
    loop = " | ".join(f"{CHORDS[name]}:4" for name in ("C", "F", "G", "Am"))
    roots = " | ".join(f"{root}:3.5 .:.5" for root in ("C2", "F1", "G1", "A1"))
    if ":" not in sub:
        sub = " | ".join(f"{tone}:3.5 .:.5" for tone in sub.split())
    text = f"tempo 140\nkey C major\nkeys | {keys} || {loop} |*3\n{more}sub | {sub} || {roots} |*3"
    findings = judged(text, [BOOK[rule]]).findings
    return [(f.level, f.where.bar) for f in findings if f.where.bar < 4]


@pytest.mark.parametrize(
    ("chords", "sub", "bars"),
    [
        ("Dm C G C", "D2 G1 G1 C2", []),  # the tonic's fifth, on which the dominant comes
        ("Am F C G", "A1 C2 C2 G1", [2]),  # another chord's fifth
        ("Dm C F G", "D2 G1 C2 G1", [2, 3]),  # the tonic's, and no dominant
        ("C Bdim Em F", "C2 G1 E1 F1", []),  # B–D–F over G is G7
        ("Am Bdim Em F", "A1 D1 G1 F1", []),  # the third, on which a diminished triad stands
        # B is pushed and struck again: it is reached by step all the same
        ("Dm E F F", "D2:3 C2:.5 B1:.5 | B1:3.5 .:.5 | F1:4 | F1:4", []),
        ("Dm E F F", "D2:3 D2:.5 B1:.5 | B1:3.5 .:.5 | F1:4 | F1:4", [2]),
        # from chord to chord G, G sharp, A; then D, G sharp, A
        ("G E Am F", "G1:1 D2:3 | G#1:1 B1:1 D2:2 | A1:3.5 .:.5 | F1:4", []),
        ("Dm E Am F", "D2:1 D1:3 | G#1:1 B1:1 D2:2 | A1:3.5 .:.5 | F1:4", [2]),
    ],
)
def test_inversions_that_theory_knows_are_silent(chords: str, sub: str, bars: list[int]) -> None:
    assert [bar for _, bar in bars_told("inverted-root", chords, sub)] == bars


@pytest.mark.parametrize(
    ("lead", "told"),
    [
        ("E4:4 | E4:3 A4:1 | A4:4", []),  # A comes a beat early in the lead as well
        ("E4:4 | E4:4 | A4:4", [("warning", 2)]),
        ("E4:4 | E4:3.6 A4:.4 | A4:4", [("warning", 2)]),  # for less than half of it
    ],
)
def test_who_comes_with_others_is_not_early(lead: str, told: list[tuple[str, int]]) -> None:
    early = "C2:3.5 .:.5 | G1:3 A1:1~3 | .:3 A1:.5 .:.5 | F1:3.5 .:.5"
    more = f"lead | {lead} | C5:4 || G4:4 | F4:4 | D4:4 | C4:4 |*3\n"
    assert bars_told("late-change", "C G Am F", early, more) == told


@pytest.mark.parametrize(
    ("sub", "steps"),
    [
        ("D2+D3:2 D2+D3:2 | C2+C3:1 C2+C3:3 | F2+F3:4", [1, 1, 1, 0]),  # D, then C
        ("D2:2 D3:2 | C2:1 C2:3 | F2:4", [0, 0, 0, 0]),  # C two octaves below, less a step
    ],
)
def test_a_line_in_octaves_steps_as_a_single_one(sub: str, steps: list[int]) -> None:
    text = f"tempo 140\nkeys | A3+D4+F4:4 | A3+C4+E4:4 | F3+A3+C4:4 |\nsub | {sub} |\n"
    chart = heard(text)
    told = registered("bass-note")["in_line"].column(chart)
    first = [told[chart.bass.start == tick] for tick in sorted(set(chart.bass.start.tolist()))[1:]]
    assert [int(notes.all()) for notes in first] == steps


@pytest.mark.parametrize(
    ("rolled", "told"),
    [
        (".:3 C4:1~3 |", []),  # struck with the bass and held on: the chord of F is rolled
        (".:3 D4:1~3 |", [("warning", 2)]),  # no tone of F
        (".:3 C4:1 |", [("warning", 2)]),  # let go at the change
        (".:2.5 C4:1.5~3 |", [("warning", 2)]),  # struck before
    ],
)
def test_a_bass_that_comes_with_a_rolled_chord_is_not_early(
    rolled: str, told: list[tuple[str, int]]
) -> None:
    early = "C2:3.5 .:.5 | G1:3 F1:1~3 | .:3 F1:.5 .:.5 | A1:3.5 .:.5"
    more = f"organ | .:4 | {rolled} .:3 C4:1 | .:4 || .:4 |*12\n"
    assert bars_told("late-change", "C G F Am", early, more) == told
