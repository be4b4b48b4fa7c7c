"""Is this a Standard MIDI File, and which chunks does it hold?

Header and chunk list, tolerant of what exporters do (long headers, alien chunks, a RIFF wrapper)
and bounded by stated limits.

Source: Standard MIDI Files 1.0 (RP-001); RIFF MIDI (RP-029) for the wrapper.
"""

from __future__ import annotations

import struct

from basslint.errors import MidiError, NotMidi, TooLarge, Truncated, Unsupported
from basslint.util.files import is_sound
from basslint.util.records import record

EXPORT_AGAIN = "Export the file again from the session it came from."
VARIABLE_LENGTH_BYTES = 4  # RP-001: the largest quantity is 0x0FFFFFFF, four bytes


@record(kw_only=True)
class Limits:
    """How much of a file is read before it is refused; generous for music, bounded for attacks.

    Each is a key of ``[limits]`` in the settings. ``max_beats``: a beat counts as many quarters as
    it lasts, one at least; 20,000 are over two hours at 140 beats a minute. ``max_markers``:
    markers that are read, others are left out with a warning. ``max_text``: characters of a name
    that are shown. ``max_seconds``: time that a run over files gives to one of them.
    ``max_loop_s``: seconds that a loop of sound may last.
    """

    max_bytes: int = 32 * 1024 * 1024
    max_events: int = 1_000_000
    max_tracks: int = 1_024
    max_parts: int = 512
    max_ticks: int = 2**40
    max_bars: int = 4_000
    max_beats: int = 10_000
    max_markers: int = 2_000
    max_text: int = 120
    max_seconds: int = 60
    max_loop_s: int = 600


DEFAULT_LIMITS = Limits()


@record(eq=False)
class Chunk:
    """One chunk of the file: four-letter ``kind`` at byte ``offset``, body [``body``, ``end``)."""

    kind: bytes
    offset: int
    body: int
    end: int


def unwrap_riff(raw: bytes) -> tuple[bytes, int]:
    """Give the Standard MIDI File inside a RIFF/RMID wrapper, and where it starts in the file."""
    if raw[:4] != b"RIFF" or raw[8:12] != b"RMID":
        return raw, 0
    at = 12
    while at + 8 <= len(raw):
        kind, size = raw[at : at + 4], int.from_bytes(raw[at + 4 : at + 8], "little")
        if kind == b"data":
            return raw[at + 8 : at + 8 + size], at + 8
        at += 8 + size + (size & 1)  # RIFF chunks are padded to even lengths
    raise Truncated("The RIFF wrapper holds no MIDI data.", EXPORT_AGAIN, byte=min(at, len(raw)))


def read_header(data: bytes, base: int, warnings: list[str]) -> tuple[int, int, int, int]:
    """Return (ticks per quarter, format, claimed tracks, byte of the first chunk after it)."""
    if not data:
        raise NotMidi("The file is empty.", EXPORT_AGAIN, byte=base)
    if data[:4] != b"MThd":
        if is_sound(data[:12]):
            raise NotMidi(
                "This is a sound, no MIDI file.",
                "Give the MIDI file of the beat; a sample that plays along goes with --loop, the "
                "one-shot of the bass with --sound.",
                byte=base,
            )
        raise NotMidi(
            "This is not a MIDI file: it does not begin with MThd.",
            "Give a Standard MIDI File (.mid), exported as the full arrangement.",
            byte=base,
        )
    if len(data) < 14:
        raise Truncated("The file ends inside its header.", EXPORT_AGAIN, byte=base + len(data))
    size, file_format, claimed, division = struct.unpack(">IHHH", data[4:14])
    if size < 6:
        raise MidiError(
            f"The header says it is {size} bytes long; it needs 6.", EXPORT_AGAIN, byte=base + 4
        )
    if 8 + size > len(data):
        raise Truncated("The file ends inside its header.", EXPORT_AGAIN, byte=base + len(data))
    if size > 6:
        warnings.append(f"The header is {size} bytes long instead of 6; the rest was skipped.")
    if file_format == 2:
        raise Unsupported(
            "This is a format 2 file: separate patterns, with no one arrangement to check.",
            "Export the arrangement as format 0 or 1.",
            byte=base + 8,
        )
    if file_format > 2:
        raise MidiError(
            f"The header names format {file_format}; Standard MIDI Files have 0, 1 and 2.",
            EXPORT_AGAIN,
            byte=base + 8,
        )
    if division & 0x8000:
        raise Unsupported(
            "The file counts time in SMPTE frames, which have no bars and beats.",
            "Export it with ticks per quarter note.",
            byte=base + 12,
        )
    if division == 0:
        raise MidiError(
            "The header says 0 ticks per quarter note, so no event has a place in time.",
            EXPORT_AGAIN,
            byte=base + 12,
        )
    return division, file_format, claimed, 8 + size


def list_chunks(
    data: bytes, first: int, base: int, limits: Limits, warnings: list[str]
) -> tuple[Chunk, ...]:
    """List every chunk after the header by its stated length; alien ones are kept, not read."""
    chunks: list[Chunk] = []
    at = first
    while at < len(data):
        if len(data) - at < 8:
            warnings.append(f"{len(data) - at} stray bytes after the last chunk were ignored.")
            break
        kind = data[at : at + 4]
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        if kind != b"MTrk":
            if not kind.isalnum() and not any(c.kind == b"MTrk" for c in chunks):
                raise MidiError(
                    "What follows the header is no chunk.", EXPORT_AGAIN, byte=base + at
                )
            if not kind.isalnum() or end > len(data):
                warnings.append(f"{len(data) - at} bytes at byte {base + at} were ignored.")
                break
            warnings.append(f"A chunk named {kind.decode('ascii')} was skipped.")
        elif end > len(data):
            raise Truncated(
                f"Track {sum(c.kind == b'MTrk' for c in chunks)} says it is {end - at - 8:,} bytes "
                f"long, but the file ends after {len(data) - at - 8:,} of them.",
                EXPORT_AGAIN,
                byte=base + len(data),
            )
        chunks.append(Chunk(kind, at, at + 8, end))
        if len(chunks) > limits.max_tracks:
            raise TooLarge(
                f"The file holds more than {limits.max_tracks:,} chunks.",
                "Check that this is an arrangement, or raise the limit `max_tracks`.",
                byte=base + at,
            )
        at = end
    return tuple(chunks)


def check_track_count(
    found: int, claimed: int, file_format: int, end: int, warnings: list[str]
) -> None:
    """Compare the tracks found with what the header claims; fewer is a cut file."""
    if found == 0:
        raise MidiError("The file holds no track.", EXPORT_AGAIN, byte=end)
    if found < claimed:
        raise Truncated(
            f"The header announces {claimed:,} tracks, the file holds {found:,}.",
            EXPORT_AGAIN,
            byte=end,
        )
    if found > claimed:
        warnings.append(f"The header announces {claimed} tracks; all {found} were read.")
    if file_format == 0 and found > 1:
        warnings.append(f"A format 0 file has one track; this one has {found}, all were read.")
