"""A roll among its copies. Where rolls belong: common practice, no source."""

from __future__ import annotations

import pytest
from beats import judged

from basslint.judging.results import Finding
from basslint.rulebook.loader import read_book

ROOTS = ("A", "F", "C", "G")
KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4"
BOOK = read_book()


def told(rolls: dict[int, str], rule: str = "roll-out-of-turn") -> list[Finding]:
    """What is told of sixteen bars, the last beat of some of them a roll."""
    bars = [f"{ROOTS[b % 4]}1:2.5 .:.5 {rolls.get(b + 1, '.:1')}" for b in range(16)]
    text = f"tempo 140\n{KEYS}\ndrums | C2 D2 C2 D2 |*16\nsub | {' | '.join(bars)} |"
    return [f for f in judged(text, BOOK).findings if f.rule == rule]


def roll(bar: int, hits: int = 6) -> str:
    """Sixteenth triplets on the bar's root."""
    return f"{ROOTS[(bar - 1) % 4]}2:1/6@70-110x{hits}"


def rolls(*bars: int) -> dict[int, str]:
    return {bar: roll(bar) for bar in bars}


@pytest.mark.parametrize("bar", [9, 10, 11])
def test_one_roll_in_another_bar_than_its_copies_is_told(bar: int) -> None:
    (only,) = told(rolls(4, 8, bar, 16))
    assert (only.where.bar, only.level) == (bar, "warning")
    assert "3 of them lie whole fours of bars apart" in only.message
    assert not told(rolls(4, 8, bar, 16), "fill-off-phrase")  # one cause, one finding


@pytest.mark.parametrize(
    "bars",
    [(4, 8, 12, 16), (4, 8, 11), (4, 8, 9, 13, 16), (4, 8, 12, 10, 14)],
    ids=["all in turn", "two copies", "two elsewhere", "every second bar"],
)
def test_other_ways_to_place_rolls_are_silent(bars: tuple[int, ...]) -> None:
    assert told(rolls(*bars)) == []


def test_rolls_with_other_hits_are_no_copies() -> None:
    assert told({**rolls(4, 8, 16), 11: roll(11, 4) + " .:1/3"}) == []


def test_a_roll_that_begins_between_the_steps_of_its_copies_is_told() -> None:
    late = {12: f".:1/8 {ROOTS[3]}2:1/6@70-110x5 .:1/24"}
    (only,) = told({**rolls(4, 8, 16), **late})
    assert (only.where.bar, only.level) == (12, "warning")
    assert only.message.startswith(
        "The roll (5 hits, 1/16 triplet) begins 54 ms later than 3 copies of it"
    )  # an eighth of a quarter of 428.57 ms
    assert told({**rolls(4, 8), **late}) == []  # two copies say nothing


def test_a_roll_that_leaves_out_the_first_hit_is_a_variation() -> None:
    assert told({**rolls(4, 8, 16), 12: f".:1/6 {ROOTS[3]}2:1/6@70-110x5"}) == []


def test_a_roll_of_other_steps_or_none_is_a_variation() -> None:
    assert told({**rolls(4, 8, 16), 12: f".:1/16 {ROOTS[3]}2:1/8@70-110x7 .:1/16"}) == []
    assert told(rolls(4, 8, 16)) == []
