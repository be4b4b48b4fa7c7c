"""How far does the wheel reach? Every way in which a file may say so, or fail to."""

from __future__ import annotations

import numpy as np
import pytest
from slide_songs import bend_range, control, note, song_of, songs_of, wheel
from slides_told import slides_of, told

from basslint.song.bends import hear_bends

# --- bend ranges ---------------------------------------------------------------------------------

FIVE = 8192 * 5 // 12


@pytest.mark.parametrize(
    "order",
    [
        "msb lsb coarse fine null null2",
        "lsb msb coarse fine",
        "msb lsb fine coarse",
        "msb lsb coarse",
        "lsb msb fine coarse null2 null",
    ],
)
def test_rpn_0_in_any_order(order: str) -> None:
    song = song_of(bend_range(0, 12, order=order), wheel(480, FIVE), note(0, 960, 33))
    (slide,) = told(slides_of(song))
    assert slide[4] == 38


def test_cents_of_the_range_count() -> None:
    song = song_of(bend_range(0, 7.5), wheel(480, -8192), note(0, 960, 33))
    assert told(slides_of(song))[0][4] == 25.5


def test_a_range_that_changes_mid_song() -> None:
    song = song_of(
        bend_range(0, 2), wheel(480, -8192), wheel(900, 0), note(0, 960, 33),
        bend_range(1000, 24), wheel(1440, -8192), note(960, 1920, 33),
    )  # fmt: skip
    assert [s[4] for s in told(slides_of(song)) if s[3] == 33] == [31, 9]


def test_no_range_stated_is_general_midi_and_says_so() -> None:
    song = song_of(wheel(480, -8192), note(0, 960, 33))
    slides = slides_of(song)
    assert told(slides)[0][4] == 31
    assert not slides.range_stated[0]
    stated = slides_of(song, reach=12)
    assert told(stated)[0][4] == 21
    assert stated.range_stated[0]


def test_data_entry_for_another_parameter_is_no_range() -> None:
    other = [control(0, 99, 1), control(0, 98, 8), control(0, 6, 12)]  # NRPN
    tuning = [control(0, 101, 0), control(0, 100, 1), control(0, 6, 12)]  # RPN 1, fine tuning
    for events in (other, tuning, [*bend_range(0, 2), *other]):
        song = song_of(events, wheel(480, -8192), note(0, 960, 33))
        assert told(slides_of(song))[0][4] == 31


def test_a_range_written_before_its_selector_is_not_obeyed() -> None:
    song = song_of(
        bend_range(0, 12, order="coarse fine lsb msb"), wheel(480, -8192), note(0, 960, 33)
    )
    assert told(slides_of(song))[0][4] == 31  # a receiver has no parameter selected (MIDI 1.0)


def test_increments_are_cents() -> None:  # RP-018
    song = song_of(
        bend_range(0, 2), control(1, 96, 0), control(2, 96, 0), wheel(480, -8192), note(0, 960, 33)
    )
    assert told(slides_of(song))[0][4] == 30.98


def test_reset_of_all_controllers_centres_the_wheel() -> None:  # RP-015
    song = song_of(bend_range(0, 12), wheel(0, 4096), control(480, 121, 0), note(0, 960, 33))
    curve = hear_bends(song, (0,), None)[0]
    assert curve.at(np.array([100, 500])).tolist() == [6.0, 0.0]


def test_ranges_of_other_channels_and_tracks_do_not_leak() -> None:
    song = songs_of(
        [*note(0, 960, 60), *bend_range(0, 24)],
        [*note(0, 960, 33), wheel(480, -8192)],
    )
    assert told(slides_of(song, parts=(1,)))[0][4] == 31


def test_a_track_of_controllers_alone_speaks_to_the_part_on_its_channel() -> None:
    song = songs_of([*bend_range(0, 12), wheel(480, -8192)], [*note(0, 960, 33)])
    assert told(slides_of(song))[0][4] == 21


def test_mpe_members_bend_48_with_their_manager_on_top() -> None:  # RP-053
    zone = [control(0, 101, 0), control(0, 100, 6), control(0, 6, 3)]
    song = song_of(zone, wheel(480, 8192 * 12 // 48, 2), wheel(500, 4096, 1), note(0, 960, 33, 2))
    slides = slides_of(song)
    assert told(slides) == [("bend", 480, 500, 33, 46)]  # 12 of the member, 1 of the manager
    assert slides.range_stated[0]
    # a range sent on one member channel holds for its zone
    other = song_of(zone, bend_range(0, 24, 3), wheel(480, 4096, 2), note(0, 960, 33, 2))
    assert told(slides_of(other))[0][4] == 45
    # channel 9 lies outside a zone of three members
    outside = song_of(zone, wheel(480, -8192, 9), note(0, 960, 33, 9))
    assert told(slides_of(outside))[0][4] == 31
