"""A bass that was moved once is told one move. Common practice, no source."""

from __future__ import annotations

import pytest
from beats import judged

from basslint.rulebook.loader import read_book

BOOK = read_book()
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
MINOR = "tempo 140\nkeys | D4+F4+A4:4 | G3+Bb3+D4:4 | A3+C4+E4:4 | D4+F4+A4:4 |*8\n"
TUNE = (
    "tune | E5:1 A4:1 C5:1 A4:1 | C5:1 A4:1 F4:1 A4:1 | G4:1 E4:1 C5:1 E4:1 |"
    " D5:1 B4:1 G4:1 B4:1 |*8\n"
)
DRUMS = "drums | C2:1 D2:1 C2:1 D2:1 |*32\n"


def line(*roots: str) -> str:
    """A bass that strikes each root twice in its bar."""
    return "sub | " + " | ".join(f"{root}:2 {root}:1.5 .:.5" for root in roots) + " |*8\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (KEYS + TUNE + line("B1", "G1", "D2", "A1"), "bass-shifted"),  # a bar early fits it, too
        (KEYS + DRUMS + line("F1", "C2", "G1", "A1"), "bass-misplaced"),  # a fourth off, too
        (
            MINOR + "sub | A1 C2 E2 A1 | D2 F2 A2 D2 | E2 G2 B2 E2 | A1 C2 E2 B1 |*8\n",
            "bass-shifted",
        ),
    ],
)
def test_what_fits_after_two_moves_is_told_the_better_one(text: str, told: str) -> None:
    found = [f.rule for f in judged(text, BOOK).findings if f.level != "note"]
    assert found == [told]


@pytest.mark.parametrize("late", [0.08, 0.12])
def test_a_lag_is_told_as_one_where_an_eighth_would_fit_as_well(late: float) -> None:
    """34 and 52 ms behind drums in eighths, under chords that come an eighth before the bar."""
    chords = ("F3+A3+C4", "C3+E3+G3", "G3+B3+D4", "A3+C4+E4")
    keys = "keys | " + " | ".join(f".:3.5 {chord}:.5~3.5" for chord in chords) + " |*8\n"
    rest = 1.5 - late
    bars = " | ".join(f".:{late} {r}:1.5 .:.5 {r}:.5 .:{rest}" for r in ("A1", "F1", "C2", "G1"))
    text = f"tempo 140\n{keys}drums | C2:.5x8 |*32\nsub | {bars} |*8\n"
    assert [f.rule for f in judged(text, BOOK).findings if f.level != "note"] == ["bass-off-drums"]
