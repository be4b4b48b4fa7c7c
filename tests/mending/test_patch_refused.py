"""Edits that cannot be: each is refused, and the message says what to do."""

from __future__ import annotations

import pytest
from midi_bytes import midi, track
from patch_edits import E_OFF, E_ON, OFF, ON, edited, end, move, pitch, velocity

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.mending.patch import Clash

IMPOSSIBLE = [
    ("no such note", (pitch(0, 480, 41, 40),), "no F2 from tick 0 to 480"),
    ("no such part", (pitch(0, 480, 36, 40, channel=7),), "channel 7"),
    (
        "no such bend",
        (Edit(do="bend", track=0, channel=1, tick=0, end_tick=0, before=5, after=6),),
        "no bend to 5",
    ),
    ("end before start", (end(0, 480, 0),), "from tick 0 to 0"),
    ("start before the file", (move(0, 480, -10),), "from tick -10"),
    ("pitch over 127", (pitch(0, 480, 36, 128),), "no note 128"),
    (
        "velocity 0",
        (velocity(0, 480, 0),),
        "velocity 0",
    ),
    (
        "bend beyond 14 bits",
        (Edit(do="bend", track=0, channel=1, tick=0, end_tick=0, before=None, after=9000),),
        "-8192..8191",
    ),
    ("a gap the format cannot say", (move(0, 480, 2**28 + 1000),), "longer than MIDI can say"),
    (
        "a note without a length",
        (Edit(do="insert", track=0, channel=1, tick=9, end_tick=9, before=None, after=40),),
        "pitch and a length",
    ),
    (
        "an edit without a value",
        (Edit(do="pitch", track=0, channel=1, tick=0, end_tick=480, before=36, after=None),),
        "does not say",
    ),
]


@pytest.mark.parametrize(
    ("edits", "told"), [i[1:] for i in IMPOSSIBLE], ids=[i[0] for i in IMPOSSIBLE]
)
def test_impossible_edits_are_refused_with_advice(edits: tuple[Edit, ...], told: str) -> None:
    data = midi(track((0, ON), (240, E_ON), (240, OFF), (240, E_OFF)))
    with pytest.raises(MendError) as caught:
        edited(data, *edits)
    assert told in caught.value.message
    assert caught.value.advice


@pytest.mark.parametrize("channel", [1, 10, 16])
def test_a_note_inside_another_of_its_pitch_is_refused(channel: int) -> None:
    """First opened, first closed: the outer note would end where the inner one does."""
    messages = [bytes([e[0] + channel - 1]) + e[1:] for e in (ON, E_ON, E_OFF, OFF)]
    data = midi(track(*zip((0, 240, 240, 240), messages, strict=True)))
    with pytest.raises(Clash, match="another one of the same pitch") as caught:
        edited(data, pitch(240, 480, 40, 36, channel))
    assert caught.value.keys == {(channel - 1, 36)}  # of track 0
