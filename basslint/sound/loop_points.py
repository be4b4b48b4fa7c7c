"""Does a sound file tell a sampler to loop it?

Sources, from memory: the sampler chunk of RIFF WAVE (Multimedia Data Standards Update, 1994), the
instrument chunk of AIFF 1.3.
"""

from __future__ import annotations

from pathlib import Path

_MOST_CHUNKS = 1000
_SAMPLER_LOOPS_AT = 28  # count of loops in a sampler chunk
_SUSTAIN_MODE_AT, _RELEASE_MODE_AT = 8, 14  # play modes in an instrument chunk, 0 = no loop


def has_loop_points(path: str | Path) -> bool:
    """Whether a WAV or AIFF file marks a loop. False for every other file."""
    with Path(path).open("rb") as file:
        head = file.read(12)
        if head[:4] == b"RIFF" and head[8:] == b"WAVE":
            wanted, order = b"smpl", "little"
        elif head[:4] == b"FORM" and head[8:] in (b"AIFF", b"AIFC"):
            wanted, order = b"INST", "big"
        else:
            return False
        for _ in range(_MOST_CHUNKS):
            chunk = file.read(8)
            if len(chunk) < 8:
                return False
            size = int.from_bytes(chunk[4:], "little" if order == "little" else "big")
            if chunk[:4] == wanted:
                body = file.read(min(size, 64))
                if wanted == b"smpl":
                    return body[_SAMPLER_LOOPS_AT : _SAMPLER_LOOPS_AT + 4].strip(b"\0") != b""
                modes = body[_SUSTAIN_MODE_AT : _SUSTAIN_MODE_AT + 2]
                modes += body[_RELEASE_MODE_AT : _RELEASE_MODE_AT + 2]
                return modes.strip(b"\0") != b""
            file.seek(size + (size & 1), 1)
    return False
