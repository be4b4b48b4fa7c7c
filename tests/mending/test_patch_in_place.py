"""Where an edited event stands among others of its tick. Expected bytes by hand from RP-001.

At one tick a note ends before the next one of its pitch starts; else each event keeps its place.
"""

from __future__ import annotations

import pytest
from midi_bytes import midi, track
from patch_edits import E_OFF, E_ON, OFF, ON, edited, insert, move, pitch

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.mending.patch import Clash
from basslint.util.records import replace

SOFT = b"\x90\x28\x50"  # E2 softly
WHEEL = b"\xe0\x00\x50"  # 2048 above the centre
E_AT_0 = b"\x90\x28\x00"  # its end as a start of velocity 0

# what it is, track before, edit, track after
CASES: list[tuple[str, bytes, Edit, bytes]] = [
    (
        "an end goes before the start of its new pitch",
        track((0, ON), (480, E_ON), (0, OFF), (480, E_OFF)),
        pitch(0, 480, 36, 40),
        track((0, E_ON), (480, E_OFF), (0, E_ON), (480, E_OFF)),
    ),
    (
        "a start goes after the end of its new pitch, however that is written",
        track((0, E_ON), (480, ON), (0, E_AT_0), (480, OFF)),
        pitch(480, 960, 36, 40),
        track((0, E_ON), (480, E_AT_0), (0, E_ON), (480, E_OFF)),
    ),
    (
        "a start is in no other start's way: the first struck is the first let go",
        track((0, ON), (0, SOFT), (240, OFF), (240, E_OFF)),
        pitch(0, 240, 36, 40),
        track((0, E_ON), (0, SOFT), (240, E_OFF), (240, E_OFF)),
    ),
    (
        "nor an end in another end's",
        track((0, SOFT), (240, ON), (240, E_AT_0), (0, OFF)),
        pitch(240, 480, 36, 40),
        track((0, SOFT), (240, E_ON), (240, E_AT_0), (0, E_OFF)),
    ),
    (
        "another channel's note is in nobody's way",
        track((0, ON), (480, b"\x91\x28\x64"), (0, OFF), (480, b"\x81\x28\x40")),
        pitch(0, 480, 36, 40),
        track((0, E_ON), (480, b"\x91\x28\x64"), (0, E_OFF), (480, b"\x81\x28\x40")),
    ),
    (
        "nor is a note of a third pitch",
        track((0, b"\x90\x29\x64"), (480, ON), (0, b"\x80\x29\x40"), (480, OFF)),
        pitch(480, 960, 36, 40),
        track((0, b"\x90\x29\x64"), (480, E_ON), (0, b"\x80\x29\x40"), (480, E_OFF)),
    ),
    (
        "nor is a controller whose number is the new pitch",
        track((0, ON), (0, b"\xb0\x28\x10"), (480, OFF)),
        pitch(0, 480, 36, 40),
        track((0, E_ON), (0, b"\xb0\x28\x10"), (480, E_OFF)),
    ),
    (
        "nor is pressure on its key",
        track((0, ON), (0, b"\xa0\x28\x10"), (480, OFF)),
        pitch(0, 480, 36, 40),
        track((0, E_ON), (0, b"\xa0\x28\x10"), (480, E_OFF)),
    ),
    (
        "a note of no length keeps its order when it is moved",
        track((480, ON), (0, OFF), (480, E_ON), (480, E_OFF)),
        move(480, 480, 240),
        track((240, ON), (0, OFF), (720, E_ON), (480, E_OFF)),
    ),
    (
        "a note that is never ended is ended by no change of pitch",
        track((0, ON), (480, E_ON), (480, E_OFF)),
        pitch(0, 960, 36, 38),
        track((0, b"\x90\x26\x64"), (480, E_ON), (480, E_OFF)),
    ),
    (
        "the very last event of a track that is never ended",
        track((0, E_ON), (480, E_OFF), (0, ON), end=b""),
        pitch(480, 480, 36, 38),
        track((0, E_ON), (480, E_OFF), (0, b"\x90\x26\x64"), end=b""),
    ),
    (
        "a note that is never ended goes, and nothing else",
        track((0, ON), (480, E_ON), (480, E_OFF)),
        Edit(do="remove", track=0, channel=1, tick=0, end_tick=960, before=36, after=None),
        track((480, E_ON), (480, E_OFF)),
    ),
    (
        "the first event of a track may be a bend that changes,",
        track((0, WHEEL), (0, ON), (480, OFF)),
        Edit(do="bend", track=0, channel=1, tick=0, end_tick=0, before=2048, after=0),
        track((0, b"\xe0\x00\x40"), (0, ON), (480, OFF)),
    ),
    (
        "or goes",
        track((0, WHEEL), (0, ON), (480, OFF)),
        Edit(do="bend", track=0, channel=1, tick=0, end_tick=0, before=2048, after=None),
        track((0, ON), (480, OFF)),
    ),
    (
        "a note is put in as hard as it says",
        track((0, E_ON), (480, E_OFF)),
        insert(0, 480, 36),
        track((0, E_ON), (0, b"\x90\x24\x5a"), (480, E_OFF), (0, OFF)),
    ),
    (
        "or plainly where it does not say",
        track((0, E_ON), (480, E_OFF)),
        replace(insert(0, 480, 36), velocity=None),
        track((0, E_ON), (0, ON), (480, E_OFF), (0, OFF)),
    ),
]


@pytest.mark.parametrize(
    ("before", "edit", "after"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_where_an_edited_event_stands(before: bytes, edit: Edit, after: bytes) -> None:
    assert edited(midi(before), edit) == midi(after)


def test_a_note_without_a_pitch_is_not_put_in() -> None:
    with pytest.raises(MendError, match="needs a pitch and a length"):
        edited(midi(track((0, ON), (480, OFF))), replace(insert(0, 480, 36), after=None))


def test_where_notes_would_run_into_each_other_their_key_is_named() -> None:
    """Of the second track, channel 3 of 1 to 16: 1 · 16 + 2."""
    on, off = b"\x92\x24\x64", b"\x82\x24\x40"
    inner = (240, b"\x92\x28\x64"), (240, b"\x82\x28\x40")
    data = midi(track((0, ON), (480, OFF)), track((0, on), *inner, (240, off)))
    one = replace(pitch(240, 480, 40, 36, channel=3), track=1)
    with pytest.raises(Clash) as caught:
        edited(data, one)
    assert caught.value.keys == {(18, 36)}


def test_a_note_is_put_into_its_own_track() -> None:
    on, off = b"\x92\x28\x64", b"\x82\x28\x40"
    first = track((0, ON), (480, OFF))
    one = replace(insert(0, 480, 40), track=1, channel=3, velocity=None)
    data = midi(first, track((480, on), (480, off)))
    assert edited(data, one) == midi(first, track((0, on), (480, off), (0, on), (480, off)))


def test_one_note_less_is_no_clash_of_the_others() -> None:
    """Two of a pitch at once, one of them taken out: the other plays as it did."""
    data = midi(track((0, ON), (240, ON), (240, OFF), (240, OFF)))
    gone = Edit(do="remove", track=0, channel=1, tick=240, end_tick=720, before=36, after=None)
    assert edited(data, gone) == midi(track((0, ON), (480, OFF), end=b"\x81\x70\xff\x2f\x00"))
