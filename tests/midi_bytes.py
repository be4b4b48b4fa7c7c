"""Standard MIDI Files as bytes, built by hand or drawn by hypothesis.

Independent of the package under test and of mido: only RP-001 is followed here. ``files`` draws
valid files with everything the format allows (running status, padded quantities, alien chunks, long
headers, F7 escapes, odd metas, missing and repeated ends of track, events on all channels);
``mido_files`` only what mido reads correctly; ``damaged`` breaks a valid file in a few places.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from hypothesis import strategies as st

END = b"\xff\x2f\x00"
Event = tuple[int, bytes]


def quantity(value: int, width: int = 0) -> bytes:
    """A variable-length quantity, padded with leading zero digits to ``width`` bytes."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(value & 0x7F | 0x80)
    out += [0x80] * (width - len(out))
    return bytes(reversed(out))


def header(file_format: int = 1, tracks: int = 1, division: int = 480, extra: bytes = b"") -> bytes:
    """MThd with ``extra`` bytes behind the six that RP-001 defines."""
    size = 6 + len(extra)
    return b"MThd" + struct.pack(">IHHH", size, file_format, tracks, division) + extra


def chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk with its length."""
    return kind + len(body).to_bytes(4, "big") + body


def track(*events: Event, end: bytes = b"\x00" + END) -> bytes:
    """An MTrk chunk of (delta, event bytes), closed by ``end``."""
    return chunk(b"MTrk", b"".join(quantity(delta) + event for delta, event in events) + end)


def midi(*tracks: bytes, file_format: int = 1, division: int = 480) -> bytes:
    """A whole file."""
    return header(file_format, len(tracks), division) + b"".join(tracks)


def meta(kind: int, body: bytes) -> bytes:
    """A meta event."""
    return bytes((0xFF, kind)) + quantity(len(body)) + body


def riff(data: bytes, *, before: bytes = b"", after: bytes = b"") -> bytes:
    """A MIDI file in a RIFF/RMID wrapper, with RIFF chunks before and after it."""
    pad = b"\0" * (len(data) & 1)
    body = b"RMID" + before + b"data" + struct.pack("<I", len(data)) + data + pad + after
    return b"RIFF" + struct.pack("<I", len(body)) + body


_byte = st.integers(0, 127)
_calm = st.one_of(st.sampled_from((0, 0, 0, 1, 60, 120, 240, 480)), st.integers(0, 2000))
_wild = st.one_of(_calm, _calm, st.integers(0, 0x3FFFFF))
_keys = st.sampled_from((36, 38, 40, 41, 60, 64))  # few, so that notes meet on one key
_channels = st.sampled_from((0, 0, 0, 1, 9, 15))
_texts = st.binary(max_size=12)
_known_metas = st.one_of(
    st.builds(meta, st.sampled_from((1, 2, 3, 4, 5, 6, 7, 9)), _texts),
    st.builds(lambda usec: meta(0x51, usec.to_bytes(3, "big")), st.integers(1, 0xFFFFFF)),
    st.builds(lambda n, d: meta(0x58, bytes((n, d, 24, 8))), st.integers(1, 32), st.integers(0, 6)),
    st.builds(
        lambda sharps, mode: meta(0x59, bytes((sharps & 0xFF, mode))),
        st.integers(-7, 7),
        st.integers(0, 1),
    ),
    st.builds(lambda channel: meta(0x20, bytes((channel,))), st.integers(0, 15)),
    st.builds(lambda port: meta(0x21, bytes((port,))), _byte),
    st.builds(lambda body: meta(0x7F, body), _texts),
)
_odd_metas = st.builds(meta, st.sampled_from((0x08, 0x0A, 0x4B, 0x54, 0x60, 0x7E)), _texts)
_sysex = st.builds(
    lambda body: b"\xf0" + quantity(len(body) + 1) + body + b"\xf7",
    st.lists(_byte, max_size=8).map(bytes),
)
_escapes = st.builds(lambda body: b"\xf7" + quantity(len(body)) + body, st.binary(max_size=6))


@st.composite
def _voices(draw: st.DrawFn) -> bytes:
    """A channel message with its status byte."""
    kind = draw(st.sampled_from((0x80, 0x90, 0x90, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0)))
    status = kind | draw(_channels)
    if kind in (0x80, 0x90):
        return bytes((status, draw(_keys), draw(st.sampled_from((0, 1, 64, 100, 127)))))
    if kind in (0xC0, 0xD0):
        return bytes((status, draw(_byte)))
    return bytes((status, draw(_byte), draw(_byte)))


@st.composite
def _events(draw: st.DrawFn, long: tuple[st.SearchStrategy[bytes], ...]) -> list[bytes]:
    """Events in order: closed notes that overlap as they like, and anything in between."""
    events = draw(st.lists(st.one_of(_voices(), *long), max_size=12))
    for _ in range(draw(st.integers(0, 6))):
        channel, key = draw(_channels), draw(_keys)
        off = draw(st.sampled_from((0x80, 0x90))) | channel
        first = draw(st.integers(0, len(events)))
        last = draw(st.integers(first, min(first + 4, len(events))))
        events.insert(last, bytes((off, key, 64 if off < 0x90 else 0)))
        events.insert(first, bytes((0x90 | channel, key, draw(st.integers(1, 127)))))
    return events


@st.composite
def tracks(draw: st.DrawFn, *, for_mido: bool, calm: bool = False) -> bytes:
    """An MTrk chunk; running status is used at random where RP-001 allows it."""
    # mido takes unknown metas and escapes in its own way, see facts named in test_scan_vs_mido
    long = (_known_metas, _sysex) if for_mido else (_known_metas, _odd_metas, _sysex, _escapes)
    events = draw(_events(long))
    deltas = _calm if calm else _wild
    body = bytearray()
    running = 0
    for event in events:
        body += quantity(draw(deltas), draw(st.sampled_from((0, 0, 0, 2, 3, 4))))
        if event[0] >= 0xF0:
            running = 0
            body += event
        elif event[0] == running and draw(st.booleans()):
            body += event[1:]
        else:
            running = event[0]
            body += event
    closing = (b"\x00" + END,) if for_mido else (b"\x00" + END, b"", b"\x83\x60" + END)
    body += draw(st.sampled_from(closing))
    if not for_mido and draw(st.integers(0, 9)) == 0:
        body += b"\x05" + END  # a repeated end of track
    return chunk(b"MTrk", bytes(body))


@st.composite
def _arrangements(draw: st.DrawFn, *, for_mido: bool, calm: bool = False) -> bytes:
    bodies = draw(st.lists(tracks(for_mido=for_mido, calm=calm), min_size=1, max_size=4))
    division = draw(st.sampled_from((24, 96, 120, 480, 960, 0x7FFF)))
    file_format = 0 if len(bodies) == 1 and draw(st.booleans()) else 1
    extra = draw(st.sampled_from((b"", b"", b"\1\2\3")))
    aliens = () if for_mido else (b"", b"", b"", chunk(b"XFIH", b"abc"), chunk(b"cues", b""))
    data = header(file_format, len(bodies), division, extra)
    for body in bodies:
        data += (draw(st.sampled_from(aliens)) if aliens else b"") + body
    return data + (draw(st.sampled_from((b"", b"", b"\0\0\0"))) if not for_mido else b"")


def files(*, calm: bool = False) -> st.SearchStrategy[bytes]:
    """Valid files with all that RP-001 allows; some in a RIFF wrapper; ``calm``: no huge deltas."""
    plain = _arrangements(for_mido=False, calm=calm)
    return st.one_of(plain, plain, plain, plain.map(riff))


def mido_files() -> st.SearchStrategy[bytes]:
    """Valid files of the kind that mido reads correctly."""
    return _arrangements(for_mido=True)


@st.composite
def damaged(draw: st.DrawFn, whole: Sequence[bytes] = ()) -> bytes:
    """A file with one to four wounds: bytes changed, cut out, doubled, put in, or the end lost."""
    source = files() if not whole else st.one_of(files(), st.sampled_from(whole))
    data = bytearray(draw(source))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(len(data) - 1, 0)))
        length = draw(st.integers(1, 8))
        how = draw(st.integers(0, 4))
        if how == 0:
            data[at : at + 1] = bytes((draw(st.integers(0, 255)),))
        elif how == 1:
            del data[at : at + length]
        elif how == 2:
            data[at:at] = data[at : at + length]
        elif how == 3:
            nasty = (b"\xff", b"\x80" * 5, b"\xff\x51\x03\0\0\0", b"\xff\x58\x04\0\x1d\x18\x08")
            data[at:at] = draw(st.one_of(st.binary(max_size=4), st.sampled_from(nasty)))
        else:
            del data[at:]
    return bytes(data)
