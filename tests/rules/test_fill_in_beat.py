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


STUMBLES = "C2:1470/480 D2:50/480@60 D2:80/480@70-110x5"  # its first hit comes 30 ticks early
LATER = "C2:1440/480 D2:80/480@60 D2:110/480@70 D2:50/480@80 D2:80/480@90-110x3"  # its third


@pytest.mark.parametrize(
    ("before", "roll", "of_beat"),
    [
        ("C2:1470/480 D2:450/480", STUMBLES, True),
        ("C2:1471/480 D2:449/480", STUMBLES, True),  # a tick beside it
        ("C2:1500/480 D2:420/480", STUMBLES, False),  # where the roll would begin
        ("C2:1470/480 A2:450/480", STUMBLES, False),  # another drum
        (BEAT, STUMBLES, False),
        ("C2:1440/480 D2:190/480 D2:290/480", LATER, False),  # it is not the first that strays
    ],
)
def test_a_first_hit_that_the_bar_before_has_there_is_the_beat_s(
    before: str, roll: str, of_beat: bool
) -> None:
    text = song(b7=before, b8=roll)
    assert read(text, "stray_is_of_beat") == [of_beat]
    (rule,) = (r for r in read_book() if r.name == "roll-off-grid")
    told = [(f.level, f.where.bar) for f in judged(text, [rule]).findings]
    assert told == ([] if of_beat else [("warning", 8)])


EARLY = "C2 D2 A2:1/6@60-110x6 C2"  # a beat before the line


@pytest.mark.parametrize(
    ("bars", "builds"),
    [
        ({"b3": ROLL, "b4": TOMS}, [True, False]),
        ({"b3": ROLL, "b4": EARLY}, [True, False]),
        ({"b3": ROLL}, [False]),
        ({"b2": ROLL, "b4": TOMS}, [False, False]),  # more than a bar away
        ({"b2": ROLL, "b3": TOMS}, [False, False]),  # that one leads nowhere, too
        ({"b3": ROLL, "b4": "C2 D2:1/4x4 C2 D2"}, [False, False]),  # two beats before it
        ({"b4": TOMS, "b5": ROLL}, [False, False]),  # it comes first
    ],
)
def test_a_roll_that_another_takes_up_and_leads_on_is_only_noted(
    bars: dict[str, str], builds: list[bool]
) -> None:
    """The four ends with bar 4. One in bar 3 that nothing takes up is told aloud."""
    assert read(song(**bars), "builds_up") == builds
    (rule,) = (r for r in read_book() if r.name == "fill-off-phrase")
    told = [f for f in judged(song(**bars), [rule]).findings if f.where.bar == 3]
    assert [f.level for f in told] == (["note" if builds[0] else "warning"] if "b3" in bars else [])
    assert any("another roll takes over" in f.message for f in told) is any(builds)


def test_a_bass_takes_up_no_roll_of_the_drums() -> None:
    text = song(b3=ROLL).replace("G1:3.5 .:0.5 |*4", "G1:3 G1:1/6@60-110x6 |*4")
    chart = heard(text)
    drums = registered("fill")["builds_up"].column(chart)[chart.fills.drums]
    assert not chart.fills.drums.all() and drums.tolist() == [False]
