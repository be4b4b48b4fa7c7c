"""A roll that the bar beside plays too, or among other rolls, is the beat and interrupts nothing.

Common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

MARKED = """tempo 140
marker 1 Verse
marker 9 Hook
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4
sub | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*4
"""
BEAT = "C2 D2 C2 D2"
ROLL = "C2 D2 C2 D2:1/6@60-110x6"
TOMS = "C2 D2 C2 A2:1/6@60-110x6"
LOOSE = "C2 D2 C2 .:8/480 D2:1/6@60-110x5 D2:72/480"  # all a few milliseconds late


def song(**bars: str) -> str:
    """A song of 16 bars with other drums in some, `b3` for bar 3."""
    line = [bars.get(f"b{bar}", BEAT) for bar in range(1, 17)]
    return f"{MARKED}drums | {' | '.join(line)} |\n"


def read(text: str, name: str) -> list[object]:
    return registered("fill")[name].column(heard(text)).tolist()


@pytest.mark.parametrize(
    ("bars", "beside"),
    [
        ({"b3": ROLL}, [False]),
        ({"b2": ROLL, "b3": ROLL}, [True, True]),
        ({"b2": ROLL, "b3": LOOSE}, [True, True]),
        ({"b3": ROLL, "b6": ROLL}, [False, False]),
        ({"b2": TOMS, "b3": ROLL}, [False, False]),  # other drums answer
        ({"b2": "C2 D2 C2:.5 D2:1/6@60-110x6 D2:.5", "b3": ROLL}, [False, False]),  # elsewhere
    ],
)
def test_what_the_bar_beside_plays_too_is_the_beat(
    bars: dict[str, str], beside: list[bool]
) -> None:
    assert read(song(**bars), "bar_beside_has_it") == beside
    (rule,) = (r for r in read_book() if r.name == "fill-off-phrase")
    told = {f.where.bar for f in judged(song(**bars), [rule]).findings}
    assert told == ({int(bar[1:]) for bar in bars} if not any(beside) else set())


def test_a_roll_of_two_bars_is_held_against_two() -> None:
    """It runs from bar 6 into bar 7: neither is the bar beside."""
    rolls = {"b6": "D2:1/4x16", "b7": "D2:1/4x16"}
    assert read(song(**rolls), "bar_beside_has_it") == [False]


def test_among_other_rolls_none_stands_out() -> None:
    (rule,) = (r for r in read_book() if r.name == "fill-off-phrase")
    one = song(b6="C2 D2:1/8x8 C2 D2")
    all_over = song(b6="C2 D2:1/8x6 .:.25 C2 D2:1/8x8", b7="C2 .:.5 D2:1/8x6 .:.75 D2:1/8x6 .:.25")
    assert read(one, "rolls_around") == [0]
    assert read(all_over, "rolls_around") == [3, 3, 3, 3]
    assert [f.level for f in judged(one, [rule]).findings] == ["warning"]
    assert {f.level for f in judged(all_over, [rule]).findings} == {"note"}
