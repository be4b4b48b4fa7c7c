"""Which events of the file an edit means: rows of the song, counted by hand.

Bytes by RP-001: rows of a track count its events from 0.
"""

from __future__ import annotations

import pytest
from midi_bytes import midi, track

from basslint.errors import MendError
from basslint.fixes.edits import Do, Edit
from basslint.mending.locate import events_of, keys_of, locate
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
WHEEL = b"\xe0\x00\x50"  # 2048 above the centre


def song(*tracks: bytes) -> Song:
    return build(scan(midi(*tracks)))


# Track 0: two notes of one pitch that begin together and end apart, one more of another channel,
# the wheel of both channels and a controller of the wheel's value; track 1: the same note.
TWO = song(
    track(
        (0, ON), (0, ON), (0, b"\x91\x24\x64"), (0, WHEEL), (0, b"\xe1\x00\x50"), (0, WHEEL),
        (0, b"\xb0\x00\x50"), (240, OFF), (0, b"\x81\x24\x40"), (240, OFF), (480, WHEEL),
    ),
    track((0, ON), (0, WHEEL), (240, OFF)),
)  # fmt: skip


def edit(
    do: Do,
    end: int = 240,
    before: int | None = 36,
    after: int | None = 40,
    where: tuple[int, int, int] = (0, 1, 0),
    nth: int = 0,
    pitch: int | None = None,
) -> Edit:
    """``where``: track, channel, tick."""
    track, channel, tick = where
    return Edit(
        do=do, track=track, channel=channel, tick=tick, end_tick=end, before=before, after=after,
        pitch=pitch, nth=nth,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("one", "events"),
    [
        (edit("pitch"), {(0, 0), (0, 7)}),  # both events of the note
        (edit("pitch", end=480), {(0, 1), (0, 9)}),  # the one that lasts so long
        (edit("remove", where=(0, 2, 0), after=None), {(0, 2), (0, 8)}),  # the one of that channel
        (edit("move", where=(1, 1, 0), before=0, after=9, pitch=36), {(1, 0), (1, 2)}),
        (edit("velocity", before=100, after=9, pitch=36), {(0, 0)}),  # its start alone
        (edit("start", before=0, after=9, pitch=36), {(0, 0)}),
        (edit("end", before=240, after=200, pitch=36), {(0, 7)}),  # its end alone
        (edit("insert", before=None), {(0, 1, 0, 40)}),  # a new one: channel, tick, pitch
        (edit("bend", before=2048, after=9), {(0, 3)}),
        (edit("bend", before=2048, after=9, nth=1), {(0, 5)}),  # the second of that tick
        (edit("bend", before=2048, after=9, where=(0, 2, 0)), {(0, 4)}),
        (edit("bend", before=2048, after=9, where=(1, 1, 0)), {(1, 1)}),
        (edit("bend", before=2048, after=9, where=(0, 1, 960)), {(0, 10)}),
        (edit("bend", before=None, after=9), {(0, 1, 0, 128)}),  # a new one: no pitch is 128
    ],
)
def test_the_events_that_an_edit_means(one: Edit, events: set[tuple[int, ...]]) -> None:
    assert events_of(TWO, [one]) == events


ALIKE = song(track((0, ON), (0, ON), (0, ON), (240, OFF), (0, OFF), (0, OFF)))
OPEN = song(track((0, ON), (240, b"\x90\x28\x64"), (240, b"\x80\x28\x40")))


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_notes_that_are_alike_are_counted_in_file_order(nth: int) -> None:
    assert events_of(ALIKE, [edit("pitch", nth=nth)]) == {(0, nth), (0, nth + 3)}


def test_a_note_that_is_never_ended_has_one_event_and_gets_another() -> None:
    held = edit("end", end=480, before=480, after=240, pitch=36)
    assert events_of(OPEN, [held]) == {(0, 1, 240, 36)}
    assert events_of(OPEN, [edit("pitch", end=480)]) == {(0, 0)}


def test_places_are_given_in_the_order_of_the_edits() -> None:
    edits = [
        edit("insert", before=None),
        edit("bend", before=2048),
        edit("bend", before=None),
        edit("pitch"),
    ]
    places = locate(TWO, edits)
    assert [place.edit for place in places] == edits
    assert [place.note >= 0 for place in places] == [False, False, False, True]
    assert [place.row for place in places] == [-1, 3, -1, -1]


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (edit("pitch", end=241), "no C2 from tick 0 to 241 on track 0, channel 1"),
        (edit("pitch", before=37), "no C#2 from"),
        (edit("pitch", where=(0, 1, 1)), "from tick 1 to 240"),
        (edit("pitch", where=(0, 1, 5000)), "from tick 5000 to 240"),
        (edit("pitch", where=(1, 2, 0)), "on track 1, channel 2"),
        (edit("pitch", nth=1), "no C2 from"),
        (edit("remove", before=None, after=None), "no note from"),
        (edit("bend", before=80), "no bend to 80"),  # a controller has that value
        (edit("bend", before=2048, where=(0, 1, 959)), "at tick 959"),  # a tick before one
        (edit("bend", before=2049), "no bend to 2049 at tick 0 on track 0, channel 1"),
        (edit("bend", before=2048, nth=2), "no bend to 2048"),
        (edit("bend", before=2048, where=(0, 3, 0)), "channel 3"),
        (edit("bend", before=2048, where=(0, 2, 960)), "at tick 960"),
    ],
)
def test_what_the_file_does_not_hold_is_refused(one: Edit, said: str) -> None:
    with pytest.raises(MendError, match=said) as caught:
        events_of(TWO, [one])
    assert "check it again" in caught.value.advice


def test_a_note_that_starts_later_is_another_though_it_ends_there() -> None:
    with pytest.raises(MendError, match="no E2 from tick 0 to 480"):
        events_of(OPEN, [edit("pitch", end=480, before=40)])


def test_the_keys_that_edits_may_touch() -> None:
    two = [edit("pitch"), edit("bend", before=None, after=9, where=(1, 2, 0), pitch=30)]
    assert keys_of(two) == {(0, 36), (0, 40), (17, 30), (17, 9)}  # channels from 0
