"""How is changed MIDI data put back into the RIFF wrapper that it came in?

Source, from memory: RIFF MIDI (RMID): a form with a ``data`` chunk that holds a Standard MIDI File;
sizes are little-endian, chunks of odd length are padded (RP-029 describes the form).
"""

from __future__ import annotations


def wrapped(raw: bytes, base: int, length: int, data: bytes) -> bytes:
    """The bytes of a file whose MIDI data became ``data``; its sizes follow the new data.

    ``raw`` is the file as it was; its MIDI data began at byte ``base`` (0: no wrapper) and were
    ``length`` bytes long. A wrapper whose own size is wrong keeps being wrong by as much, within
    what four bytes hold.
    """
    if not base:
        return data
    rest = raw[base + length + (length & 1) :]
    pad = b"\0" if len(data) & 1 else b""
    grown = len(data) + (len(data) & 1) - length - (length & 1)
    size = min(max(int.from_bytes(raw[4:8], "little") + grown, 0), _MOST)
    head = raw[:4] + size.to_bytes(4, "little") + raw[8 : base - 4]
    return head + len(data).to_bytes(4, "little") + data + pad + rest


_MOST = 0xFFFFFFFF  # what the four bytes of a size hold
