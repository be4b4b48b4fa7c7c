"""What a copy with some tracks written anew holds, read with what is known of the file before."""

from __future__ import annotations

import numpy as np
import pytest
from midi_bytes import meta, midi, riff, track

from basslint.errors import TooLarge
from basslint.smf.scan import Limits, Scan, scan

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
PLAIN = track((0, ON), (480, OFF))
LONGER = track((0, ON), (48000, OFF), (0, b"\xb0\x07\x64"))
LOUD = track((0, b"\xb0\x07\x80"), (0, ON), (480, OFF))  # warned of: a level of 128
ODD = track((0, ON), (0, meta(1, b"x")), (480, b"\x24\x00"))  # running status after a meta event


def columns(read: Scan) -> list[tuple[object, ...]]:
    names = ("tick", "delta_at", "at", "stop", "status", "data1", "data2", "payload_at")
    return [
        (t.index, t.chunk.offset, t.chunk.end, t.plain, *(getattr(t, n).tolist() for n in names))
        for t in read.tracks
    ]


@pytest.mark.parametrize("wrap", [lambda data: data, riff], ids=["plain", "riff"])
@pytest.mark.parametrize(
    ("before", "after"),
    [
        ((PLAIN, PLAIN, PLAIN), (PLAIN, LONGER, PLAIN)),
        ((LOUD, PLAIN, ODD), (LONGER, PLAIN, ODD)),
        ((PLAIN, LOUD, ODD), (LONGER, LOUD, ODD)),
        ((PLAIN, PLAIN), (PLAIN,)),
        ((PLAIN,), (LONGER, PLAIN, LOUD)),
    ],
    ids=["longer", "odd last", "odd unchanged", "one less", "more"],
)
def test_a_copy_is_read_as_if_it_were_new(before, after, wrap) -> None:  # type: ignore[no-untyped-def]
    known, data = scan(wrap(midi(*before))), wrap(midi(*after))
    told, fresh = scan(data, like=known), scan(data)
    assert columns(told) == columns(fresh)
    assert (told.warnings, told.data) == (fresh.warnings, fresh.data)


def test_only_what_was_written_anew_is_read_again() -> None:
    known = scan(midi(PLAIN, PLAIN, LOUD))
    told = scan(midi(LONGER, PLAIN, LOUD), like=known)
    pairs = zip(known.tracks, told.tracks, strict=True)
    same = [np.shares_memory(before.tick, after.tick) for before, after in pairs]
    assert same == [False, True, False]


def test_the_limits_of_the_copy_hold() -> None:
    data = midi(PLAIN, PLAIN)
    known = scan(data)
    with pytest.raises(TooLarge):
        scan(data, Limits(max_events=5), known)
    with pytest.raises(TooLarge):
        scan(data, Limits(max_ticks=10), known)
    with pytest.raises(TooLarge):  # the first one leaves no room for the other
        few = Limits(max_events=7)
        full = track((0, ON), (1, OFF), *[(0, b"\xb0\x07\x64")] * 3)
        scan(midi(full, PLAIN), few, scan(data, few))
