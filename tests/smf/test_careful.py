"""Where events begin, byte by byte; places counted by hand.

Lengths of channel messages: MIDI 1.0 detailed specification. Quantities, meta events, SysEx and
running status: Standard MIDI Files 1.0 (RP-001).
"""

from __future__ import annotations

import pytest

from basslint.errors import MidiError, TooLarge
from basslint.smf.careful import careful

NOTE = "00 90 24 64 "


def places(text: str, begin: int = 0, room: int = 99) -> list[int]:
    data = bytes.fromhex(text)
    return careful(data, begin, len(data), room, 3, 100).tolist()


@pytest.mark.parametrize(
    ("track", "begins"),
    [
        ("", []),
        (NOTE, [0]),
        (NOTE + NOTE, [0, 4]),
        (NOTE + "60 24 00 00 28 50", [0, 4, 7]),  # running status
        # two data bytes up to BF and from E0 on, one between
        ("00 80 24 40 00 af 24 40 00 bf 07 64 " + NOTE, [0, 4, 8, 12]),
        ("00 c0 05 00 cf 05 00 d0 40 00 df 40 " + NOTE, [0, 3, 6, 9, 12]),
        ("00 e0 00 40 00 ef 00 40 " + NOTE, [0, 4, 8]),
        ("00 bf 07 64 00 07 65 " + NOTE, [0, 4, 7]),
        ("00 c0 05 00 06 00 07 " + NOTE, [0, 3, 5, 7]),
        ("00 df 40 00 41 " + NOTE, [0, 3, 5]),
        ("00 e0 00 40 00 01 41 " + NOTE, [0, 4, 7]),
        ("00 ff 03 02 41 42 " + NOTE, [0, 6]),  # a meta event: kind, length, body
        ("00 ff 01 00 " + NOTE, [0, 4]),
        ("00 ff 01 81 48 " + "41 " * 200 + NOTE, [0, 205]),  # 1 · 128 + 72
        ("00 f0 03 01 02 f7 " + NOTE, [0, 6]),
        ("00 f7 02 f3 01 " + NOTE, [0, 5]),  # an escape
        (NOTE + "00 ff 01 00 00 24 00", [0, 4, 8]),  # put up with: running status over a meta event
        ("80 00 90 24 64 80 80 05 24 00", [0, 5]),  # a quantity may begin with nothing
        ("ff ff ff 7f 90 24 64 81 00 24 00", [0, 7]),  # the largest quantity there is
    ],
)
def test_where_events_begin(track: str, begins: list[int]) -> None:
    assert places(track) == begins
    behind = "aa " * 7 + track
    assert places(behind, begin=7) == [place + 7 for place in begins]


@pytest.mark.parametrize(
    ("track", "told", "byte"),
    [
        ("00 24 64", "a data byte stands where a status byte must", 1),
        ("00 ff 01 00 00 24 64", "a data byte stands where a status byte must", 5),
        (NOTE + "00", "the track ends after a delta time, with no event", 4),
        (NOTE + "81", "the track ends inside a delta time", 4),
        (NOTE + "ff ff ff ff 7f 90 24 64", "a delta time is longer than 4 bytes", 4),
        (NOTE + "00 90 24", "an event runs past the end of its track", 5),
        (NOTE + "00 24", "an event runs past the end of its track", 5),
        ("00 c0", "an event runs past the end of its track", 1),
        ("00 ff 03 03 41 42", "an event runs past the end of its track", 1),
        ("00 ff 03", "the track ends inside an event's length", 1),
        ("00 f0 ff ff ff ff 00", "an event's length is longer than 4 bytes", 1),
        ("00 f8", "the byte 0xF8 is no event of a MIDI file", 1),
        ("00 f1 00", "the byte 0xF1 is no event of a MIDI file", 1),
    ],
)
def test_what_is_no_track_is_refused_with_its_byte(track: str, told: str, byte: int) -> None:
    with pytest.raises(MidiError) as caught:
        places(track)
    assert caught.value.message.startswith(f"Track 3: {told}")
    assert caught.value.byte == 100 + byte


def test_as_many_events_as_there_is_room_for() -> None:
    assert places(NOTE * 3, room=3) == [0, 4, 8]
    with pytest.raises(TooLarge, match="Track 3") as caught:
        places(NOTE * 4, room=3)
    assert caught.value.byte == 112  # where the fourth begins
