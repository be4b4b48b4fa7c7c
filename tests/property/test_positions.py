"""The quick finder of events agrees with the careful one wherever it answers at all."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from basslint.errors import MidiError
from basslint.smf.careful import careful
from basslint.smf.positions import PAD, Positions
from basslint.smf.quick import quick
from basslint.util.records import fields_of

ROOM = 100_000
_delta = st.one_of(
    st.binary(min_size=1, max_size=1).map(lambda b: bytes([b[0] & 0x7F])),
    st.sampled_from([b"\x81\x00", b"\x80\x80\x00", b"\x80\x80\x80\x05", b"\xff\xff\xff\xff\x00"]),
)
_event = st.one_of(
    st.builds(lambda s, a, b: bytes([s, a, b]), st.sampled_from([0x80, 0x93, 0xB0, 0xE1]),
              st.integers(0, 127), st.integers(0, 127)),
    st.builds(lambda a, b: bytes([a, b]), st.integers(0, 127), st.integers(0, 127)),
    st.builds(lambda s, a: bytes([s, a]), st.sampled_from([0xC0, 0xD5]), st.integers(0, 127)),
    st.builds(lambda a: bytes([a]), st.integers(0, 127)),
    st.builds(lambda t, body: bytes([0xFF, t, len(body)]) + body, st.integers(0, 127),
              st.binary(max_size=20)),
    st.builds(lambda s, body: bytes([s, len(body)]) + body, st.sampled_from([0xF0, 0xF7]),
              st.binary(max_size=9)),
    st.binary(max_size=3),
)  # fmt: skip
tracks = st.lists(st.tuples(_delta, _event), max_size=40).map(
    lambda pairs: b"".join(d + e for d, e in pairs)
)


def agree(body: bytes) -> None:
    data = b"before" + body
    padded = np.frombuffer(data + bytes(PAD), dtype=np.uint8)
    places = quick(padded, 6, len(data), ROOM, 0, 0)
    try:
        slow = Positions.of(padded, careful(data, 6, len(data), ROOM, 0, 0), len(data))
    except MidiError:
        assert places is None
        return
    if max(slow.data1.max(initial=0), slow.data2.max(initial=0)) > 127:
        assert places is None  # careful tells what is meant by it
        return
    assert places is not None, "quick gave up on a track that can be read"
    for name in fields_of(places):
        mine, his = getattr(places, name), getattr(slow, name)
        assert mine.dtype == his.dtype and mine.tolist() == his.tolist(), name


@settings(max_examples=400, deadline=None)
@given(tracks)
def test_quick_agrees_on_tracks(body: bytes) -> None:
    agree(body)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=60))
def test_quick_agrees_on_noise(body: bytes) -> None:
    agree(body)


def test_quick_agrees_across_windows() -> None:
    note = bytes([0x60, 0x90, 40, 90, 0x83, 0x60, 40, 0])
    meta = bytes([0x00, 0xFF, 0x01, 0x81, 0x48]) + bytes(200)
    for shift in range(14):
        odd = bytes([0x81, 0, 5]) * (shift % 2)  # so that windows end at every byte of a note
        agree(bytes([0, 0xC0, 5]) + bytes([0, 5]) * (shift // 2) + odd + (note * 500 + meta) * 40)


def test_quick_agrees_where_an_event_is_longer_than_a_window() -> None:
    note = bytes([0x60, 0xB0, 40, 90])
    dump = bytes([0, 0xF0, 0x90, 0x80, 0x00]) + (b"\xf7\x01\xc3" * 2**17)[: 2**18]
    agree(note + dump + note * 40_000 + bytes([0x81, 0x00, 0xD0, 9]) + note)
