"""Edits as bytes, case by case. Expected bytes written by hand from RP-001."""

from __future__ import annotations

import io

import mido
import pytest
from midi_bytes import END, chunk, header, meta, midi, riff, track
from patch_edits import E_OFF, E_ON, NAME, OFF, ON, edited, end, insert, move, pitch, velocity

from basslint.fixes.edits import Edit

# what it is, track before, edits, track after
CASES: list[tuple[str, bytes, tuple[Edit, ...], bytes]] = [
    (
        "pitch changes both events of the note in their places",
        track(NAME, (0, ON), (480, OFF)),
        (pitch(0, 480, 36, 40),),
        track(NAME, (0, E_ON), (480, E_OFF)),
    ),
    (
        "a volume of 128 stays in the file, though 127 is heard",
        track((0, b"\xb0\x07\x80"), (0, ON), (480, OFF)),
        (pitch(0, 480, 36, 40),),
        track((0, b"\xb0\x07\x80"), (0, E_ON), (480, E_OFF)),
    ),
    (
        "running status and velocity-0 ends keep their form",
        track((0, ON), (240, b"\x24\x00"), (0, b"\x28\x50"), (240, b"\x28\x00")),
        (pitch(0, 240, 36, 38),),
        track((0, b"\x90\x26\x64"), (240, b"\x26\x00"), (0, b"\x28\x50"), (240, b"\x28\x00")),
    ),
    (
        "release velocity stays",
        track((0, ON), (480, b"\x80\x24\x11")),
        (pitch(0, 480, 36, 40),),
        track((0, E_ON), (480, b"\x80\x28\x11")),
    ),
    (
        "velocity",
        track((0, ON), (480, OFF)),
        (velocity(0, 480, 80),),
        track((0, b"\x90\x24\x50"), (480, OFF)),
    ),
    (
        "a note ends earlier; what follows keeps its tick",
        track((0, ON), (480, OFF), (0, E_ON), (480, E_OFF)),
        (end(0, 480, 420),),
        track((0, ON), (420, OFF), (60, E_ON), (480, E_OFF)),
    ),
    (
        "an end that moves to a tick where another note starts goes before it",
        track((0, ON), (480, E_ON), (120, OFF), (360, E_OFF)),
        (end(0, 600, 480),),
        track((0, ON), (480, OFF), (0, E_ON), (480, E_OFF)),
    ),
    (
        "a start that moves goes after the end and the bend of that tick",
        track((0, ON), (480, OFF), (0, b"\xe0\x00\x40"), (60, E_ON), (420, E_OFF)),
        (
            Edit(
                do="start",
                track=0,
                channel=1,
                tick=540,
                end_tick=960,
                before=540,
                after=480,
                pitch=40,
            ),
        ),
        track((0, ON), (480, OFF), (0, b"\xe0\x00\x40"), (0, E_ON), (480, E_OFF)),
    ),
    (
        "move takes both ends",
        track((480, ON), (480, OFF), (960, meta(6, b"x"))),
        (move(480, 960, 240),),
        track((240, ON), (480, OFF), (1200, meta(6, b"x"))),
    ),
    (
        "a moved event that came between running ones gives the next its status byte",
        track((0, ON), (240, b"\x28\x64"), (240, b"\x80\x28\x40"), (10, b"\x24\x40")),
        (
            Edit(
                do="start",
                track=0,
                channel=1,
                tick=240,
                end_tick=480,
                before=240,
                after=300,
                pitch=40,
            ),
        ),
        track((0, ON), (300, b"\x28\x64"), (180, b"\x80\x28\x40"), (10, b"\x24\x40")),
    ),
    (
        "broken running status is mended where it broke and nowhere else",
        track(
            (0, ON),
            (480, OFF),
            (0, b"\x90\x28\x64"),
            (0, b"\x2b\x64"),
            (480, E_OFF),
            (0, b"\x2b\x40"),
        ),
        (Edit(do="remove", track=0, channel=1, tick=480, end_tick=960, before=40, after=None),),
        track((0, ON), (480, OFF), (0, b"\x90\x2b\x64"), (480, b"\x80\x2b\x40")),
    ),
    (
        "status byte given where the running one over a meta was that of what is gone",
        track(
            (0, ON),
            (0, b"\x91\x28\x64"),
            (9, b"\x28\x00"),
            (0, meta(1, b"")),
            (9, b"\x2b\x64"),
            (9, b"\x2b\x00"),
            (480, OFF),
        ),
        (Edit(do="remove", track=0, channel=2, tick=0, end_tick=9, before=40, after=None),),
        track(
            (0, ON),
            (9, meta(1, b"")),
            (9, b"\x91\x2b\x64"),
            (9, b"\x2b\x00"),
            (480, OFF),
        ),
    ),
    (
        "what is put in comes before an end of track that more follows",
        track((0, ON), (480, OFF), (0, END), (9, E_ON), (9, E_OFF)),
        (insert(0, 480, 43),),
        track(
            (0, ON),
            (0, b"\x90\x2b\x5a"),
            (480, OFF),
            (0, b"\x80\x2b\x40"),
            (0, END),
            (9, E_ON),
            (9, E_OFF),
        ),
    ),
    (
        "all ends of track are pushed on by what is put in after them, as little as can be",
        track((0, ON), (480, OFF), (9, END), (9, END), end=b"\x09" + END),
        (insert(480, 600, 43),),
        track(
            (0, ON),
            (480, OFF),
            (0, b"\x90\x2b\x5a"),
            (120, b"\x80\x2b\x40"),
            (0, END),
            (0, END),
        ),
    ),
    (
        "status byte given, too, where a meta stands between",
        track(
            (0, ON),
            (0, meta(1, b"")),
            (0, b"\x90\x28\x64"),
            (0, b"\x2b\x64"),
            (480, OFF),
            (0, b"\x28\x40"),
            (0, b"\x2b\x40"),
        ),
        (Edit(do="remove", track=0, channel=1, tick=0, end_tick=480, before=40, after=None),),
        track((0, ON), (0, meta(1, b"")), (0, b"\x90\x2b\x64"), (480, OFF), (0, b"\x2b\x40")),
    ),
    (
        "padded quantities of neighbours stay, the changed one is short",
        chunk(
            b"MTrk",
            b"\x80\x00"
            + ON
            + b"\x80\x83\x60"
            + OFF
            + b"\x80\x80\x05"
            + E_ON
            + b"\x80\x0a"
            + E_OFF
            + b"\0"
            + END,
        ),
        (end(0, 480, 470),),
        chunk(
            b"MTrk",
            b"\x80\x00"
            + ON
            + b"\x83\x56"
            + OFF
            + b"\x0f"
            + E_ON
            + b"\x80\x0a"
            + E_OFF
            + b"\0"
            + END,
        ),
    ),
    (
        "odd metas, SysEx and escapes stay as they are",
        track(
            (0, meta(0x4B, b"?")), (0, b"\xf0\x02\x01\xf7"), (0, ON), (9, b"\xf7\x01\xf8"), (9, OFF)
        ),
        (pitch(0, 18, 36, 40),),
        track(
            (0, meta(0x4B, b"?")),
            (0, b"\xf0\x02\x01\xf7"),
            (0, E_ON),
            (9, b"\xf7\x01\xf8"),
            (9, E_OFF),
        ),
    ),
    (
        "a missing end of track stays missing",
        track((0, ON), (480, OFF), end=b""),
        (pitch(0, 480, 36, 40),),
        track((0, E_ON), (480, E_OFF), end=b""),
    ),
    (
        "a repeated end of track stays repeated",
        track((0, ON), (480, OFF), (0, END)),
        (pitch(0, 480, 36, 40),),
        track((0, E_ON), (480, E_OFF), (0, END)),
    ),
    (
        "what is put in after the end of the track pushes that end on",
        track((0, ON), (480, OFF), (0, meta(1, b"x"))),
        (end(0, 480, 960),),
        track((0, ON), (480, meta(1, b"x")), (480, OFF)),
    ),
    (
        "what is put in before the end of the track leaves it where it was",
        track((0, ON), (240, OFF), end=b"\x87\x40" + END),
        (end(0, 240, 960),),
        track((0, ON), (960, OFF), end=b"\x81\x70" + END),
    ),
    (
        "a note is put in",
        track((0, ON), (480, OFF)),
        (
            Edit(
                do="insert",
                track=0,
                channel=1,
                tick=480,
                end_tick=960,
                before=None,
                after=40,
                velocity=100,
            ),
        ),
        track((0, ON), (480, OFF), (0, E_ON), (480, b"\x80\x28\x40")),
    ),
    (
        "an open bend is closed before the next note",
        track((0, b"\xe0\x00\x50"), (0, ON), (480, OFF), (0, E_ON), (480, E_OFF)),
        (Edit(do="bend", track=0, channel=1, tick=480, end_tick=480, before=None, after=0),),
        track(
            (0, b"\xe0\x00\x50"), (0, ON), (480, OFF), (0, b"\xe0\x00\x40"), (0, E_ON), (480, E_OFF)
        ),
    ),
    (
        "bends are rewritten in their places, between RPN and note",
        track(
            (0, b"\xb0\x65\x00"),
            (0, b"\x64\x00"),
            (0, b"\x06\x0c"),
            (0, b"\xe0\x00\x50"),
            (0, ON),
            (10, b"\xe0\x00\x60"),
            (470, OFF),
        ),
        (Edit(do="bend", track=0, channel=1, tick=10, end_tick=10, before=4096, after=8191),),
        track(
            (0, b"\xb0\x65\x00"),
            (0, b"\x64\x00"),
            (0, b"\x06\x0c"),
            (0, b"\xe0\x00\x50"),
            (0, ON),
            (10, b"\xe0\x7f\x7f"),
            (470, OFF),
        ),
    ),
    (
        "a bend is taken out and put in elsewhere",
        track((0, ON), (240, b"\xe0\x00\x60"), (240, OFF)),
        (
            Edit(do="bend", track=0, channel=1, tick=240, end_tick=240, before=4096, after=None),
            Edit(do="bend", track=0, channel=1, tick=120, end_tick=120, before=None, after=4096),
        ),
        track((0, ON), (120, b"\xe0\x00\x60"), (360, OFF)),
    ),
    (
        "a hanging note gets its end",
        track((0, ON), (480, E_ON), (480, E_OFF)),
        (end(0, 960, 480),),
        track((0, ON), (480, b"\x80\x24\x40"), (0, E_ON), (480, E_OFF)),
    ),
    (
        "a hanging note gets its end at the end of the song",
        track((0, ON), (480, E_ON), (480, E_OFF)),
        (end(0, 960, 960),),
        track((0, ON), (480, E_ON), (480, E_OFF), (0, b"\x80\x24\x40")),
    ),
    (
        "a doubled note is taken out once",
        track((0, ON), (0, ON), (480, OFF), (0, OFF)),
        (Edit(do="remove", track=0, channel=1, tick=0, end_tick=480, before=36, after=None),),
        track((0, ON), (480, OFF)),
    ),
    (
        "a note that takes the pitch of the one before starts after that one has ended",
        track((0, ON), (480, E_ON), (0, OFF), (480, E_OFF)),
        (pitch(480, 960, 40, 36),),
        track((0, ON), (480, OFF), (0, ON), (480, OFF)),
    ),
    (
        "several edits of one note add up",
        track((0, ON), (480, OFF)),
        (pitch(0, 480, 36, 40), end(0, 480, 240)),
        track((0, E_ON), (240, E_OFF), end=b"\x81\x70" + END),
    ),
]


@pytest.mark.parametrize(
    ("before", "edits", "after"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_edit_in_bytes(before: bytes, edits: tuple[Edit, ...], after: bytes) -> None:
    assert edited(midi(before), *edits) == midi(after)


@pytest.mark.parametrize(
    ("before", "edits", "after"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_riff_wrapper_and_alien_chunks_stay_around_an_edit(
    before: bytes, edits: tuple[Edit, ...], after: bytes
) -> None:
    alien, tail = chunk(b"XFIH", b"\1\2\3"), b"\0\0"
    around = {"before": b"LIST\x02\0\0\0ab", "after": b"DISP\x02\0\0\0hi"}
    head = header(tracks=2, extra=b"ab")
    other = track((0, b"\x99\x24\x7f"), (1, b"\x24\x00"))
    inner = head + before + alien + other + tail
    want = head + after + alien + other + tail
    assert edited(riff(inner, **around), *edits) == riff(want, **around)


def test_mido_reads_the_same_notes_from_an_edited_file() -> None:
    """A second reader, so that writer and reader of this package cannot share a mistake."""
    data = edited(
        midi(track((0, ON), (240, b"\x28\x64"), (240, b"\x24\x00"), (240, b"\x28\x00"))),
        move(0, 480, 120),
    )
    told = []
    tick = 0
    for message in mido.MidiFile(file=io.BytesIO(data)).tracks[0]:
        tick += message.time
        if not message.is_meta:
            told.append((tick, message.type, message.note, message.velocity))
    assert told == [
        (120, "note_on", 36, 100),
        (240, "note_on", 40, 100),
        (600, "note_on", 36, 0),
        (720, "note_on", 40, 0),
    ]
