"""A feel beside the kick, and what strays from it: offsets in milliseconds, counted by hand.

At 125 bpm and 480 ticks a quarter a tick lasts a millisecond (Standard MIDI Files 1.0). The spread
of a normal distribution is 1.4826 times half the width of its middle half.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book


def line(name: str, pitch: str, offsets: list[int]) -> str:
    """A part that strikes every quarter, each so many milliseconds late."""
    bars = []
    for first in range(0, len(offsets), 4):
        tokens, cursor = [], 0
        for beat, late in enumerate(offsets[first : first + 4]):
            if gap := beat * 480 + late - cursor:
                tokens.append(f".:{gap}/480")
            tokens.append(f"{pitch}:1/2")
            cursor = beat * 480 + late + 240
        bars.append(" ".join([*tokens, f".:{1920 - cursor}/480"]))
    return f"{name} | {' | '.join(bars)} |\n"


def read(
    name: str,
    offsets: list[int],
    more: str = "",
    kick: list[int] | None = None,
    bpm: int = 125,
) -> object:
    chords = f"keys | A3+C4+E4:4 |*{-(-len(offsets) // 4)}\n"
    drums = line("kick", "C2", kick or [0] * len(offsets))
    text = f"tempo {bpm}\n{chords}{drums}{more}{line('sub', 'A1', offsets)}"
    return registered("bass-note")[name].column(heard(text)).tolist()


TIGHT = [0] * 5 + [20] + [0] * 10
SWUNG = [0, 15, 0, 15] * 4  # the second and the fourth beat of each bar lie back
LOOSE = [4, 20, 0, 39, 26, 2, 33, 6]  # half of it lies within 6 ms, from 0 to 6


@pytest.mark.parametrize(
    ("offsets", "usual"),
    [
        ([20] * 16, [20] * 16),
        (TIGHT, [0] * 16),
        ([20] * 3, [0] * 3),  # three make no habit
        ([20] * 4, [20] * 4),
        ([20, 20, 39, 20, 20], [20] * 5),  # four in five
        ([20, 20, 36, 20, 28], [0] * 5),  # three in five
        ([20, 24, 16, 20, 20], [20] * 5),  # 4 ms is how hands scatter
        ([20, 26, 14, 20, 14], [0] * 5),
        (SWUNG, SWUNG),  # each place of the bar has its own
        (LOOSE, [3] * 8),
        (LOOSE[:7], [0] * 7),  # seven notes have no middle yet
    ],
)
def test_the_usual_place_beside_the_kick(offsets: list[int], usual: list[float]) -> None:
    assert read("usual_kick_offset", offsets) == pytest.approx(usual)


@pytest.mark.parametrize(
    ("offsets", "stray"),
    [
        ([20] * 16, [0] * 16),
        (TIGHT, TIGHT),
        ([20, 20, 39, 20, 20], [0, 0, 19, 0, 0]),
        ([0, 0, 1, 2, 0], [0, 0, 0, 2, 0]),  # a tick is as exactly as the file can say it
        (LOOSE, [1, 17, 3, 36, 23, 1, 30, 3]),
    ],
)
def test_how_far_a_note_strays_from_it(offsets: list[int], stray: list[float]) -> None:
    found = read("kick_stray", offsets)
    wanted = [0.0 if ms <= 1 else ms for ms in stray]
    assert found == pytest.approx(wanted, abs=0.05)


def test_strays_in_spreads() -> None:
    assert read("kick_spreads", TIGHT) == pytest.approx(TIGHT)  # drawn on the grid: 1 ms
    found = read("kick_spreads", LOOSE)
    assert isinstance(found, list)
    assert found[3] == pytest.approx(36 / (1.4826 * 3), rel=1e-3)


@pytest.mark.parametrize(
    ("offsets", "row", "share"),
    [
        ([20] * 16, 0, 1.0),
        (TIGHT, 5, 1.0),  # all others keep to it
        (TIGHT, 0, 14 / 15),
        ([20, 20, 39, 20, 20], 0, 3 / 4),
        ([20, 20, 41, 20, 20], 0, 1.0),  # so far off it is another hit, and no part of the feel
    ],
)
def test_how_many_others_keep_their_place(offsets: list[int], row: int, share: float) -> None:
    found = read("kick_keeping", offsets)
    assert isinstance(found, list)
    assert found[row] == pytest.approx(share)


@pytest.mark.parametrize(
    ("offsets", "first"),
    [
        ([20] * 8, 0),
        ([3] * 8, 0),
        ([2] * 8, None),  # too near to be heard
        ([0] * 8, None),
        (SWUNG, 1),
        ([38] + [20] * 8, 1),  # the first one strays
        ([20] * 3, None),
    ],
)
def test_the_first_note_with_a_feel(offsets: list[int], first: int | None) -> None:
    found = read("first_with_feel", offsets)
    assert found == [row == first for row in range(len(offsets))]


@pytest.mark.parametrize(
    ("kick", "snare", "agree"),
    [(10, 0, True), (10, 4, True), (10, 6, False), (4, 0, False), (6, 0, True)],
)
def test_a_drum_that_is_struck_with_the_bass(kick: int, snare: int, agree: bool) -> None:
    more = line("snare", "D2", [0, snare, 0, 0] * 2)
    found = read("with_the_kit", [0] * 8, more, [0, kick, 0, 0] * 2)
    assert isinstance(found, list)
    assert found[1] is agree and not found[0]


@pytest.mark.parametrize(
    ("late", "count", "told"),
    [((5,), 1, 1), ((5, 9), 2, 2), ((5, 9, 13), 3, 0)],
)
def test_what_strays_often_in_a_loose_part_is_its_way(
    late: tuple[int, ...], count: int, told: int
) -> None:
    offsets = [(0, 9, 3, 12, 6, 0, 10, 4)[row % 8] for row in range(32)]
    for row in late:
        offsets[row] = 38
    found = read("strays_in_part", offsets)
    assert found == [count] * len(offsets)
    chords, drums = "keys | A3+C4+E4:4 |*8\n", line("kick", "C2", [0] * 32)
    (rule,) = (rule for rule in read_book() if rule.name == "kick-flam")
    text = f"tempo 125\n{chords}{drums}{line('sub', 'A1', offsets)}"
    findings = judged(text, [rule]).findings
    assert sum(1 + len(f.also) for f in findings) == told
    assert {f.level for f in findings} <= {"note"}


@pytest.mark.parametrize(
    ("off", "count"),
    [
        ((1,) * 7, 3),  # seven of 32 lie a tick of 5 ms late
        ((1,) * 6, 1),  # less than a fifth: drawn on the grid, and each slip counts alone
        ((2, -1) * 4, 3),  # early, or two ticks late
        ((3,) * 8, 1),  # 15 ms is no rounding
    ],
)
def test_a_hand_shows_where_a_coarse_file_rounds_it(off: tuple[int, ...], count: int) -> None:
    """At 25 bpm a tick is 5 ms, as at 125 where 96 make a quarter; three hits lie 35 ms off."""
    offsets = [0] * 32
    for place, late in enumerate(off):
        offsets[4 * place + place % 4] = late  # on all beats of the bar: else it is their habit
    for row in (6, 13, 23):
        offsets[row] = 7
    found = read("strays_in_part", offsets, bpm=25)
    assert isinstance(found, list)
    assert found == [count] * 32
