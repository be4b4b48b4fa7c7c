"""Files that are cut, odd, hostile or none at all, with what a user reads of each.

Expected readings from Standard MIDI Files 1.0 (RP-001), RIFF MIDI (RP-029) and, for the lengths of
channel messages, the MIDI 1.0 detailed specification.
"""

from __future__ import annotations

import struct

from midi_bytes import END, chunk, header, meta, midi, riff, track

from basslint.errors import MidiError, NotMidi, TooLarge, Truncated, Unsupported
from basslint.smf.chunks import DEFAULT_LIMITS

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
NOTE = track((0, ON), (480, OFF))
WHOLE = midi(NOTE)

REFUSED = [
    # what it is, bytes, kind of error, what the user reads, byte
    ("empty", b"", NotMidi, "The file is empty", 0),
    ("a picture", b"\x89PNG\r\n\x1a\n" + bytes(40), NotMidi, "not a MIDI file", 0),
    ("header cut", WHOLE[:9], Truncated, "ends inside its header", 9),
    (
        "header short",
        b"MThd" + struct.pack(">IHH", 4, 1, 1) + bytes(8),
        MidiError,
        "4 bytes long; it needs 6",
        4,
    ),
    (
        "header length beyond the file",
        b"MThd" + struct.pack(">IHHH", 900, 1, 1, 480),
        Truncated,
        "ends inside its header",
        14,
    ),
    ("track cut", WHOLE[:-6], Truncated, "Track 0 says it is", len(WHOLE) - 6),
    (
        "track longer than the file",
        header() + b"MTrk\x7f\xff\xff\xff" + NOTE[8:],
        Truncated,
        "Track 0 says it is 2,147,483,647 bytes",
        len(WHOLE),
    ),
    ("no track", header(tracks=0), MidiError, "holds no track", 14),
    ("65,535 tracks claimed", header(tracks=65535) + NOTE, Truncated, "announces 65,535", None),
    ("format 2", midi(NOTE, file_format=2), Unsupported, "format 2", 8),
    ("65,535 tracks claimed, none there", header(tracks=65535), MidiError, "holds no track", 14),
    ("format 7", midi(NOTE, file_format=7), MidiError, "names format 7", 8),
    ("division 0", midi(NOTE, division=0), MidiError, "0 ticks per quarter", 12),
    ("SMPTE division", midi(NOTE, division=0xE728), Unsupported, "SMPTE", 12),
    (
        "data byte over 127",
        midi(track((0, b"\x90\x24\xe4"), (480, OFF))),
        MidiError,
        "a data byte is over 127 (in 90 24 E4), which no event may hold",
        23,
    ),
    (
        "a volume over 128",
        midi(track((0, b"\xb0\x07\x81"), (0, ON), (480, OFF))),
        MidiError,
        "a data byte is over 127 (in B0 07 81)",
        23,
    ),
    (
        "a controller of 128 that changes what is heard",
        midi(track((0, b"\xb0\x06\x80"), (0, ON), (480, OFF))),
        MidiError,
        "a data byte is over 127 (in B0 06 80)",
        23,
    ),
    (
        "running status with nothing before it",
        midi(track((0, b"\x24\x64"))),
        MidiError,
        "a data byte stands where a status byte must",
        23,
    ),
    (
        "delta of 5 bytes",
        midi(chunk(b"MTrk", b"\x81\x80\x80\x80\x00" + ON)),
        MidiError,
        "a delta time is longer than 4 bytes",
        22,
    ),
    (
        "a megabyte of continuation bytes",
        midi(chunk(b"MTrk", b"\x80" * 1_000_000)),
        MidiError,
        "a delta time is longer than 4 bytes",
        22,
    ),
    (
        "length of 5 bytes",
        midi(chunk(b"MTrk", b"\x00\xff\x01\x81\x80\x80\x80\x00")),
        MidiError,
        "length is longer than 4 bytes",
        23,
    ),
    (
        "meta longer than its track",
        midi(chunk(b"MTrk", b"\x00\xff\x03\x7fBass")),
        MidiError,
        "runs past the end of its track",
        23,
    ),
    (
        "meta type over 127",
        midi(track((0, b"\xff\x90\x00"))),
        MidiError,
        "type is over 127",
        23,
    ),
    ("message cut", midi(chunk(b"MTrk", b"\x00\x90\x24")), MidiError, "runs past the end", 23),
    ("delta with no event", midi(chunk(b"MTrk", b"\x00")), MidiError, "with no event", 22),
    ("cut in a delta", midi(chunk(b"MTrk", b"\x81")), MidiError, "inside a delta time", 22),
    ("cut in a length", midi(chunk(b"MTrk", b"\x00\xf0\x81")), MidiError, "event's length", 23),
    (
        "a real-time byte",
        midi(track((0, b"\xf8"))),
        MidiError,
        "0xF8 is no event of a MIDI file",
        23,
    ),
    ("no chunk after the header", header() + b"\0\1\2\3\4\5\6\7\x08", MidiError, "is no chunk", 14),
    ("RIFF with nothing in it", b"RIFF\x04\0\0\0RMID", Truncated, "holds no MIDI data", 12),
    (
        "two meters at one tick, the second very short",
        midi(
            track(
                (0, meta(0x58, b"\x01\x06\x18\x08")),
                (0, meta(0x58, b"\x01\x06\x18\x08")),
                (0x0FFFFFFF, ON),
                (480, OFF),
            )
        ),
        TooLarge,
        "bars long",
        None,
    ),
    (
        "bars of 255 whole notes",
        midi(track((0, meta(0x58, b"\xff\0\x18\x08")), (0x0FFFFFFF, ON), (480, OFF))),
        TooLarge,
        "beats; basslint reads up to",
        None,
    ),
    (
        "more megabytes than are read",
        WHOLE + bytes(DEFAULT_LIMITS.max_bytes),
        TooLarge,
        "bytes; basslint reads up to 33,554,432",
        None,
    ),
    (
        "more events than are read, one byte each",
        midi(chunk(b"MTrk", b"\x00\xc0\x05" + bytes((0, 5)) * (DEFAULT_LIMITS.max_events + 1))),
        TooLarge,
        "events",
        None,
    ),
    (
        "deltas of 0x0FFFFFFF",
        midi(track(*[(0x0FFFFFFF, ON), (0x0FFFFFFF, OFF)] * 40)),
        TooLarge,
        "bars long",
        None,
    ),
]

ACCEPTED = [
    # what it is, bytes, what the user is warned of (None: nothing), notes as (start, end, pitch)
    ("plain", WHOLE, None, [(0, 480, 36)]),
    (
        "header of 9 bytes",
        header(extra=b"abc") + NOTE,
        "header is 9 bytes long instead of 6",
        [(0, 480, 36)],
    ),
    (
        "alien chunks between tracks",
        header(tracks=2) + NOTE + chunk(b"XFIH", b"\0\1") + NOTE,
        "chunk named XFIH was skipped",
        [(0, 480, 36), (0, 480, 36)],
    ),
    ("stray bytes at the end", WHOLE + b"\0\0\0", "3 stray bytes", [(0, 480, 36)]),
    ("zeros at the end", WHOLE + bytes(64), "64 bytes at byte", [(0, 480, 36)]),
    ("RIFF", riff(WHOLE), "wrapped in RIFF", [(0, 480, 36)]),
    (
        "RIFF with chunks before and after",
        riff(WHOLE, before=b"LIST\x03\0\0\0abc\0", after=b"DISP\x02\0\0\0hi"),
        "MIDI data starts at byte 32",
        [(0, 480, 36)],
    ),
    (
        "more tracks than announced",
        header(tracks=1) + NOTE + NOTE,
        "announces 1 tracks; all 2 were read",
        [(0, 480, 36), (0, 480, 36)],
    ),
    (
        "format 0 with two tracks",
        header(0, 2) + NOTE + NOTE,
        "format 0 file has one track; this one has 2",
        [(0, 480, 36), (0, 480, 36)],
    ),
    ("no end of track", midi(track((0, ON), (480, OFF), end=b"")), "no end-of-track", None),
    (
        "events after the end of track",
        midi(track((0, ON), (0, END), (480, OFF))),
        "goes on after its end-of-track",
        [(0, 480, 36)],
    ),
    (
        "volumes of 128",
        midi(track((0, b"\xb0\x07\x80"), (0, ON), (480, b"\xb0\x0b\x80"), (0, OFF))),
        "volume or place in the mix is 128, over the highest (2 times); 127 was taken",
        [(0, 480, 36)],
    ),
    ("velocity 0 ends a note", midi(track((0, ON), (480, b"\x90\x24\x00"))), None, [(0, 480, 36)]),
    ("running status", midi(track((0, ON), (480, b"\x24\x00"))), None, [(0, 480, 36)]),
    (
        "padded quantities",
        midi(chunk(b"MTrk", b"\x80\x80\x80\x00" + ON + b"\x80\x83\x60" + OFF + b"\0" + END)),
        None,
        [(0, 480, 36)],
    ),
    (
        "running status across a meta event",
        midi(track((0, ON), (0, meta(1, b"x")), (480, b"\x24\x00"))),
        "running status goes on after a meta or SysEx event (1 times)",
        [(0, 480, 36)],
    ),
    (
        "unknown meta",
        midi(track((480, meta(0x4B, b"?")), (0, ON), (9, OFF))),
        None,
        [(480, 489, 36)],
    ),
    (
        "one pitch opened twice: first opened, first closed",
        midi(track((0, ON), (240, ON), (240, OFF), (480, OFF))),
        None,
        [(0, 480, 36), (240, 960, 36)],
    ),
    ("format 0", midi(NOTE, file_format=0), None, [(0, 480, 36)]),
    (
        "one tick a quarter note",
        midi(track((0, ON), (1, OFF), (1, ON), (3, OFF)), division=1),
        None,
        [(0, 1, 36), (2, 5, 36)],
    ),
    ("hanging note", midi(track((0, ON), (960, meta(6, b"end")))), None, [(0, 960, 36)]),
    (
        "stray note-off",
        midi(track((0, OFF), (0, ON), (480, OFF))),
        "1 note-off closes no open note and was ignored",
        [(0, 480, 36)],
    ),
    (
        "tempo 0",
        midi(track((0, meta(0x51, bytes(3))), (0, ON), (480, OFF))),
        "A tempo that is no tempo was ignored (track 0, byte 23)",
        [(0, 480, 36)],
    ),
    (
        "tempo too short",
        midi(track((0, meta(0x51, b"\x07")), (0, ON), (480, OFF))),
        "A tempo that is no tempo",
        None,
    ),
    (
        "time signature 0/4",
        midi(track((0, meta(0x58, b"\0\2\x18\x08")), (0, ON), (480, OFF))),
        "A time signature that is none",
        None,
    ),
    (
        "denominator 2^29",
        midi(track((0, meta(0x58, b"\4\x1d\x18\x08")), (0, ON), (480, OFF))),
        "A time signature that is none",
        None,
    ),
    (
        "time signature too short",
        midi(track((0, meta(0x58, b"\4")), (0, ON), (480, OFF))),
        "A time signature that is none",
        None,
    ),
    (
        "time signature too long",
        midi(track((0, meta(0x58, b"\3\2\x18\x08\0\0")), (0, ON), (480, OFF))),
        None,
        None,
    ),
    (
        "key signature too short",
        midi(track((0, meta(0x59, b"\1")), (0, ON), (480, OFF))),
        "A key signature that is none",
        None,
    ),
    (
        "8 sharps",
        midi(track((0, meta(0x59, b"\x08\0")), (0, ON), (480, OFF))),
        "A key signature that is none",
        None,
    ),
    (
        "mode 2",
        midi(track((0, meta(0x59, b"\0\2")), (0, ON), (480, OFF))),
        "A key signature that is none",
        None,
    ),
    (
        "tempo too long",
        midi(track((0, meta(0x51, b"\7\xa1\x20\0\0")), (0, ON), (9, OFF))),
        None,
        None,
    ),
]
