"""Which chunks a file holds, and what is put up with; bytes counted by hand.

Standard MIDI Files 1.0 (RP-001) for header and chunks, RIFF MIDI (RP-029) for the wrapper.
"""

from __future__ import annotations

import pytest
from midi_bytes import chunk

from basslint.errors import MidiError, NotMidi, TooLarge, Truncated, Unsupported
from basslint.smf.chunks import (
    DEFAULT_LIMITS,
    Limits,
    check_track_count,
    list_chunks,
    read_header,
    unwrap_riff,
)

DATA = b"data\x03\0\0\0abc"
EMPTY = b"data\0\0\0\0"


def riff(*chunks: bytes, form: bytes = b"RMID", name: bytes = b"RIFF") -> bytes:
    body = form + b"".join(chunks)
    return name + len(body).to_bytes(4, "little") + body


@pytest.mark.parametrize(
    ("raw", "inner", "at"),
    [
        (riff(DATA), b"abc", 20),
        (riff(b"LIST\x04\0\0\0abcd", DATA), b"abc", 32),
        (riff(b"LIST\x03\0\0\0abc\0", DATA), b"abc", 32),  # padded to an even length
        (riff(b"LIST\0\0\0\0", DATA), b"abc", 28),
        (riff(DATA, b"tail"), b"abc", 20),
        (riff(EMPTY), b"", 20),
        (riff(b"data\x09\0\0\0abc"), b"abc", 20),  # it ends early: the file inside tells
    ],
)
def test_the_file_inside_a_wrapper(raw: bytes, inner: bytes, at: int) -> None:
    assert unwrap_riff(raw) == (inner, at)


@pytest.mark.parametrize(
    "raw", [b"", b"MThd", riff(DATA, form=b"WAVE"), riff(DATA, name=b"RIFX"), DATA]
)
def test_what_is_no_wrapper_is_left_as_it_is(raw: bytes) -> None:
    assert unwrap_riff(raw) == (raw, 0)


@pytest.mark.parametrize(
    ("raw", "byte"),
    [
        (riff(), 12),
        (riff(b"LIST\x02\0\0\0ab"), 22),
        (riff(b"LIST\x7f\0\0\0ab"), 22),  # the chunk says it is longer than the file
        (riff(b"data\x03\0\0"), 12),  # half a head
    ],
)
def test_a_wrapper_without_midi_data_is_refused(raw: bytes, byte: int) -> None:
    with pytest.raises(Truncated, match="no MIDI data") as caught:
        unwrap_riff(raw)
    assert caught.value.byte == byte


def head(size: int = 6, form: int = 1, tracks: int = 1, division: int = 480) -> bytes:
    numbers = b"".join(n.to_bytes(2, "big") for n in (form, tracks, division))
    return b"MThd" + size.to_bytes(4, "big") + numbers


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (head(), (480, 1, 1, 14)),
        (head(form=0, tracks=9, division=1), (1, 0, 9, 14)),
        (head(division=0x7FFF), (0x7FFF, 1, 1, 14)),
        (head(size=7) + b"a", (480, 1, 1, 15)),  # a longer header: the rest is skipped
    ],
)
def test_a_header_of_any_length_says_division_format_and_tracks(
    data: bytes, told: tuple[int, int, int, int]
) -> None:
    warnings: list[str] = []
    assert read_header(data, 5, warnings) == told
    assert warnings == ["The header is 7 bytes long instead of 6; the rest was skipped."] * (
        told[3] == 15
    )


@pytest.mark.parametrize(
    ("data", "kind", "told", "byte"),
    [
        (b"", NotMidi, "The file is empty", 5),
        (b"RIFF\x24\0\0\0WAVEfmt ", NotMidi, "This is a sound, no MIDI file", 5),
        (b"MThf" + head()[4:], NotMidi, "does not begin with MThd", 5),
        (head()[:13], Truncated, "ends inside its header", 18),
        (head(size=5), MidiError, "5 bytes long; it needs 6", 9),
        (head(size=7), Truncated, "ends inside its header", 19),
        (head(form=2), Unsupported, "format 2", 13),
        (head(form=3), MidiError, "format 3", 13),
        (head(division=0x8000), Unsupported, "SMPTE", 17),
        (head(division=0), MidiError, "0 ticks", 17),
    ],
)
def test_headers_that_are_refused(data: bytes, kind: type[MidiError], told: str, byte: int) -> None:
    """The file begins at byte 5 of what it stands in."""
    with pytest.raises(kind, match=told) as caught:
        read_header(data, 5, [])
    assert (type(caught.value), caught.value.byte) == (kind, byte)


TRACK = chunk(b"MTrk", b"abcd")


def listed(data: bytes, limits: Limits = DEFAULT_LIMITS) -> tuple[list[tuple[object, ...]], str]:
    """Kind, offset, body and end of each chunk, and the warnings; the list begins at byte 3."""
    warnings: list[str] = []
    found = list_chunks(b"xyz" + data, 3, 7, limits, warnings)
    return [(c.kind, c.offset, c.body, c.end) for c in found], " ".join(warnings)


FIRST = (b"MTrk", 3, 11, 15)


@pytest.mark.parametrize(
    ("data", "chunks", "warning"),
    [
        (b"", [], ""),
        (TRACK, [FIRST], ""),
        (TRACK + TRACK, [FIRST, (b"MTrk", 15, 23, 27)], ""),
        (TRACK + chunk(b"MTrk", b""), [FIRST, (b"MTrk", 15, 23, 23)], ""),
        (chunk(b"XFIH", b"") + TRACK, [(b"XFIH", 3, 11, 11), (b"MTrk", 11, 19, 23)],
         "A chunk named XFIH was skipped."),
        (TRACK + b"1234567", [FIRST], "7 stray bytes after the last chunk were ignored."),
        (TRACK + b"\0\0\0\0\0\0\0\0\0", [FIRST], "9 bytes at byte 22 were ignored."),
        (TRACK + b"XFIH\0\0\0\x02ab", [FIRST, (b"XFIH", 15, 23, 25)],
         "A chunk named XFIH was skipped."),
        (TRACK + b"XFIH\0\0\0\x03ab", [FIRST], "10 bytes at byte 22 were ignored."),
    ],
)  # fmt: skip
def test_chunks_follow_each_other_by_their_lengths(
    data: bytes, chunks: list[tuple[object, ...]], warning: str
) -> None:
    assert listed(data) == (chunks, warning)


@pytest.mark.parametrize(
    ("data", "kind", "told", "byte"),
    [
        (b"\0\0\0\0\0\0\0\0", MidiError, "no chunk", 10),  # before any track
        (chunk(b"XFIH", b"") + b"\0" * 8, MidiError, "no chunk", 18),
        (b"MTrk\0\0\0\x05abcd", Truncated, "Track 0 says it is 5 bytes long, but .* 4 of", 22),
        (b"MTrk\x01\0\0\0abcd", Truncated, "Track 0 says it is 16,777,216 bytes long", 22),
        (TRACK + chunk(b"XFIH", b"") + b"MTrk\0\0\0\x01", Truncated, "Track 1 says .* 0 of", 38),
    ],
)
def test_chunks_that_are_refused(data: bytes, kind: type[MidiError], told: str, byte: int) -> None:
    with pytest.raises(kind, match=told) as caught:
        listed(data)
    assert (type(caught.value), caught.value.byte) == (kind, byte)


def test_as_many_chunks_as_allowed() -> None:
    assert len(listed(TRACK * 2, Limits(max_tracks=2))[0]) == 2
    with pytest.raises(TooLarge, match="more than 2 chunks") as caught:
        listed(TRACK * 3, Limits(max_tracks=2))
    assert caught.value.byte == 34  # where the third begins


@pytest.mark.parametrize(
    ("found", "claimed", "form", "told"),
    [
        (1, 1, 0, []),
        (1, 0, 0, ["The header announces 0 tracks; all 1 were read."]),
        (2, 2, 1, []),
        (3, 2, 1, ["The header announces 2 tracks; all 3 were read."]),
        (2, 2, 0, ["A format 0 file has one track; this one has 2, all were read."]),
    ],
)
def test_counts_of_tracks(found: int, claimed: int, form: int, told: list[str]) -> None:
    warnings: list[str] = []
    check_track_count(found, claimed, form, 50, warnings)
    assert warnings == told


@pytest.mark.parametrize(
    ("found", "claimed", "kind", "told"),
    [
        (0, 0, MidiError, "holds no track"),
        (0, 5, MidiError, "holds no track"),
        (1, 2, Truncated, "announces 2 tracks, the file holds 1"),
    ],
)
def test_too_few_tracks(found: int, claimed: int, kind: type[MidiError], told: str) -> None:
    with pytest.raises(kind, match=told) as caught:
        check_track_count(found, claimed, 1, 50, [])
    assert (type(caught.value), caught.value.byte) == (kind, 50)
