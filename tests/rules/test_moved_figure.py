"""A figure that moves as a whole is a sequence; one whose shape breaks is not (common practice)."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

G, F = "G1 D2 Bb1 D2", "F1 C2 Ab1 C2"


def beat(third: str) -> str:
    """Eight bars of a broken G minor chord, alone; another figure in bar 3."""
    line = [G, G, third, G, G, "D1 A1 F1 A1", G, G]
    return f"tempo 120\nkey G minor\nsub | {' | '.join(line)} |\n"


@pytest.mark.parametrize(
    ("third", "moved"),
    [
        (F, True),
        ("F1 C2 A1 C2", False),  # the shape breaks
        ("F1:2 C2:.5 Ab1:.5 C2:1", False),  # other places
        ("F1 C2 F1 C2", False),  # two tones are no shape
        (G, False),  # stays
    ],
)
def test_a_figure_moved_as_a_whole(third: str, moved: bool) -> None:
    told = registered("bass-note")["figure_moved"].column(heard(beat(third)))
    assert told[8:12].tolist() == [moved] * 4


@pytest.mark.parametrize(("third", "told"), [(F, []), ("F1 C2 Ab1 D2", [("warning", 3)])])
def test_a_sequence_may_leave_the_scale(third: str, told: list[tuple[str, int]]) -> None:
    (rule,) = (rule for rule in read_book() if rule.name == "outside-scale")
    assert [(f.level, f.where.bar) for f in judged(beat(third), [rule]).findings] == told
