"""Which channel messages a file holds is told without putting them in order."""

from __future__ import annotations

import pytest
from midi_bytes import Event, midi, track

from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.song.channels import Steering

NOTE: list[Event] = [(0, b"\x90\x24\x64"), (480, b"\x80\x24\x40")]


@pytest.mark.parametrize(
    ("event", "controllers", "bends"),
    [
        (b"\xb0\x07\x64", {7}, False),
        (b"\xb0\x41\x7f", {65}, False),
        (b"\xe0\x00\x50", set(), True),
        (b"\xc0\x26", set(), False),  # a program is no controller of its number
        (b"\xd0\x41", set(), False),  # nor is pressure
        (b"\xa0\x41\x20", set(), False),
    ],
)
def test_what_there_is_is_told(event: bytes, controllers: set[int], bends: bool) -> None:
    song = build(scan(midi(track(*NOTE), track((0, event)))))
    assert (song.steering.controllers, song.steering.bends) == (controllers, bends)
    assert song.steering.changes is None
    assert len(song.changes) == 1
    told = Steering.of(song.changes)
    assert (told.controllers, told.bends) == (controllers, bends)


def test_changes_are_put_in_order_when_first_asked_for() -> None:
    one = track(*NOTE, (0, b"\xb0\x07\x01"))
    other = track((100, b"\xb1\x07\x02"), (700, b"\xb1\x07\x03"))
    song = build(scan(midi(one, other)))
    assert song.changes.value.tolist() == [2, 1, 3]
    assert song.changes.tick.tolist() == [100, 480, 800]
    assert song.changes is song.changes
