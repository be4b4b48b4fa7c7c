"""Which range do controllers state? Each row is a sequence of them, by the published rules.

Sources: MIDI 1.0 detailed specification (registered parameters and their null selection), RP-015
(reset of all controllers), RP-018 (data increment and decrement), RP-053 (MPE).
"""

from __future__ import annotations

import math

import pytest
from slide_songs import bend_range, control, note, song_of, songs_of, wheel

from basslint.song.bends import hear_bends

Said = tuple[int, int, int]  # controller, value, channel


def zone(members: int, manager: int = 1) -> list[Said]:
    """An MPE configuration message (RPN 6)."""
    return [(101, 0, manager), (100, 6, manager), (6, members, manager)]


def rpn_0(semitones: int, channel: int = 1, cents: int | None = None) -> list[Said]:
    said = [(101, 0, channel), (100, 0, channel), (6, semitones, channel)]
    return said if cents is None else [*said, (38, cents, channel)]


def semitones_of(said: list[Said], channel: int, apart: int = 0) -> tuple[float, bool, float]:
    """How far a full bend goes on a channel, whether that is stated, and a range that was lost;
    ``apart`` ticks lie between the controllers."""
    events = [control(i * apart, n, v, c) for i, (n, v, c) in enumerate(said)]
    song = song_of(events, wheel(480, -8192, channel), note(0, 960, 33, channel))
    curve = hear_bends(song, (0,), None)[0]
    return -round(float(curve.semitones[-1]), 2), bool(curve.stated[-1]), curve.misplaced


@pytest.mark.parametrize(
    ("said", "channel", "semitones", "stated"),
    [
        ([], 1, 2, False),
        (rpn_0(12), 1, 12, True),
        (rpn_0(12), 2, 2, False),
        (rpn_0(0), 1, 0, True),
        (rpn_0(7, cents=50), 1, 7.5, True),
        ([*rpn_0(3), (99, 0, 1), (6, 12, 1)], 1, 3, True),  # a non-registered one is chosen
        ([*rpn_0(3), (98, 0, 1), (6, 12, 1)], 1, 3, True),
        ([*rpn_0(3), (101, 127, 1), (100, 127, 1), (6, 12, 1)], 1, 3, True),  # none is
        ([*rpn_0(3), (121, 0, 1), (6, 12, 1)], 1, 3, True),  # RP-015: nor is one after a reset
        ([*rpn_0(3), (100, 2, 1), (6, 12, 1)], 1, 3, True),  # RPN 2 is coarse tuning
        ([*rpn_0(2, cents=99), (96, 0, 1)], 1, 3, True),  # RP-018: 100 cents are a semitone
        ([*rpn_0(3), (97, 0, 1)], 1, 2.99, True),
        ([*rpn_0(0), (97, 0, 1)], 1, 0, True),  # there is no range below none
        (zone(3), 1, 2, True),  # RP-053: the manager keeps ±2
        (zone(3), 2, 48, True),
        (zone(3), 4, 48, True),
        (zone(3), 5, 2, False),
        (zone(15), 16, 48, True),
        (zone(3, manager=16), 15, 48, True),
        (zone(3, manager=16), 13, 48, True),
        (zone(3, manager=16), 12, 2, False),
        (zone(3, manager=5), 6, 2, False),  # only 1 and 16 manage a zone
        (zone(3, manager=5), 15, 2, False),
        ([*zone(3), (6, 0, 1)], 2, 2, False),  # taken back
        ([*zone(3), (6, 1, 1)], 3, 2, False),  # made smaller
        ([(101, 0, 1), (100, 6, 1), (38, 3, 1)], 2, 2, False),  # the count is in the coarse byte
        ([*zone(3), *rpn_0(24, channel=4)], 2, 24, True),  # one member speaks for its zone
        ([*zone(3), *rpn_0(24, channel=4)], 1, 2, True),  # … and not for its manager
        ([*zone(3), *rpn_0(24, 4, 50), (101, 0, 2), (100, 0, 2), (96, 0, 2)], 3, 24.51, True),
    ],
)
def test_the_range_in_force(said: list[Said], channel: int, semitones: float, stated: bool) -> None:
    assert semitones_of(said, channel)[:2] == (semitones, stated)


@pytest.mark.parametrize(
    ("said", "apart", "semitones", "lost"),
    [
        ([(6, 12, 1), (100, 0, 1), (101, 0, 1)], 0, 2, 12),
        ([(6, 12, 1), (100, 0, 1), (101, 0, 1)], 5, 2, math.nan),  # not of one moment: no such slip
        ([(6, 12, 1), (100, 1, 1), (101, 0, 1)], 0, 2, math.nan),  # another parameter
        ([(6, 12, 1), *rpn_0(7)], 0, 7, math.nan),  # said again, well
        ([(38, 12, 1), (100, 0, 1), (101, 0, 1)], 0, 2, math.nan),  # cents alone are no range
    ],
)
def test_a_range_that_no_receiver_obeys(
    said: list[Said], apart: int, semitones: float, lost: float
) -> None:
    heard, _, misplaced = semitones_of(said, 1, apart)
    assert heard == semitones
    assert misplaced == pytest.approx(lost, nan_ok=True)


@pytest.mark.parametrize(
    ("apart", "semitones"),
    [(0, 12.5), (5, 12.0)],  # cents before their semitones count where both are of one moment
)
def test_a_new_coarse_value_clears_an_older_fine_one(apart: int, semitones: float) -> None:
    said = [(101, 0, 1), (100, 0, 1), (38, 50, 1), (6, 12, 1)]
    assert semitones_of(said, 1, apart)[0] == semitones


@pytest.mark.parametrize(("players", "semitones"), [(1, 12.0), (2, 2.0)])
def test_a_track_of_controllers_speaks_only_to_a_channel_of_one_part(
    players: int, semitones: float
) -> None:
    """Common practice, no source: many sequencers leave all tracks on channel 1."""
    parts = [[*note(0, 960, 33), wheel(480, -8192)] for _ in range(players)]
    song = songs_of(bend_range(0, 12), *parts)
    for curve in hear_bends(song, tuple(range(players)), None).values():
        assert curve.semitones[-1] == -semitones
