"""What does a sound file tell a sampler: whether to loop it, and at which key it has its own pitch?

Sources, from memory: the sampler chunk of RIFF WAVE (Multimedia Data Standards Update, 1994), the
instrument chunk of AIFF 1.3.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from basslint.sound.root_key import RootKey, root_key_of
from basslint.util.records import record

_MOST_CHUNKS = 1000
_MOST_BYTES = 64  # of a chunk that are read: what is asked for stands before
_SAMPLER_LOOPS_AT = 28  # count of loops in a sampler chunk
_SUSTAIN_MODE_AT, _RELEASE_MODE_AT = 8, 14  # play modes in an instrument chunk, 0 = no loop


@record
class SamplerChunk:
    """``loops``: the file marks a loop; ``root_key`` None where it states none."""

    loops: bool = False
    root_key: RootKey | None = None


def read_sampler_chunk(path: str | Path) -> SamplerChunk:
    """What a WAV or AIFF file tells a sampler; nothing for every other file."""
    with Path(path).open("rb") as file:
        head = file.read(12)
        order: Literal["little", "big"]
        if head[:4] == b"RIFF" and head[8:] == b"WAVE":
            wanted, order = b"smpl", "little"
        elif head[:4] == b"FORM" and head[8:] in (b"AIFF", b"AIFC"):
            wanted, order = b"INST", "big"
        else:
            return SamplerChunk()
        for _ in range(_MOST_CHUNKS):
            chunk = file.read(8)
            if len(chunk) < 8:
                break
            size = int.from_bytes(chunk[4:], order)
            if chunk[:4] == wanted:
                body = file.read(min(size, _MOST_BYTES))
                return SamplerChunk(_marks_loop(wanted, body), root_key_of(wanted, body))
            file.seek(size + (size & 1), 1)
    return SamplerChunk()


def _marks_loop(kind: bytes, body: bytes) -> bool:
    if kind == b"smpl":
        return body[_SAMPLER_LOOPS_AT : _SAMPLER_LOOPS_AT + 4].strip(b"\0") != b""
    modes = body[_SUSTAIN_MODE_AT : _SUSTAIN_MODE_AT + 2]
    modes += body[_RELEASE_MODE_AT : _RELEASE_MODE_AT + 2]
    return modes.strip(b"\0") != b""
