"""How is a file of sound opened, and which levels can no sound hold? For one-shots and loops."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from basslint.errors import SoundError
from basslint.util.files import is_file

Answer = TypeVar("Answer")
Samples = NDArray[np.floating[Any]]

LARGEST_RATE_HZ = 192_000  # what interfaces record at most
MOST_CHANNELS = 32
LOUDEST = 1e6  # of full scale, 120 dB over it: what is louder is no level, but damage
_KINDS = "Give a WAV, FLAC, AIFF or OGG file."
_AGAIN = "Export it again."
# libsndfile's own words before what it found wrong; the name is told anyway
_OPENING = r"^(Error (opening '.*')?\s*: |Internal error : )+"
_HEADER_BYTES = 12  # RIFF and FORM: a name, the bytes that follow, what they hold
_UNKNOWN_BYTES = 0x7FFF_0000  # from here on a length stands for "not known yet", as in a pipe
_MISSED = 0.01  # of the stated bytes that may be missing: a tag at the end, no sound
_OGG_PAGE_BYTES = 65_307  # the largest page (RFC 3533, section 6)
_OGG_LAST = 4  # flag of a stream's last page (there, too)


def opened(path: str | Path, noun: str, ask: Callable[[Any], Answer]) -> Answer:
    """What ``ask`` says of an open sound file; ``noun``: what messages call it, such as "loop".

    Raises `SoundError` for a file that is missing, no sound, or wider than any interface records.
    """
    import soundfile

    file = Path(path)
    if not is_file(file):
        raise SoundError(f"The {noun} {path} {_no_file(file)}.", _KINDS)
    try:
        short = _cut_short(file)
        if short:
            raise SoundError(
                f"The {noun} {path} is cut short: {short}.", "Copy or export it again."
            )
        with soundfile.SoundFile(str(file)) as sound:
            _check_width(path, noun, int(sound.samplerate), int(sound.channels))
            return ask(sound)
    except SoundError:
        raise
    except (soundfile.SoundFileError, OSError, ValueError) as error:
        raise SoundError(f"{path} cannot be read as a sound ({_reason(error)}).", _KINDS) from error


def checked_peak(samples: Samples, noun: str, path: str) -> float:
    """The largest of samples of any shape. Raises `SoundError` where they are no levels."""
    damage = _damage(samples)
    if damage:
        raise SoundError(f"The {noun} {path} holds {damage}.", _AGAIN)
    peak = float(np.abs(samples).max())
    if peak > LOUDEST:
        over = 20 * np.log10(peak)
        raise SoundError(f"The {noun} {path} is {over:,.0f} dB over full scale.", _AGAIN)
    return peak


def silence(noun: str, path: str, offset: bool, advice: str) -> SoundError:
    """The error for a sound that does not move; ``offset``: it stands off the zero line."""
    still = ": it holds a constant offset and nothing else" if offset else ""
    return SoundError(f"The {noun} {path} is silent{still}.", advice)


def _no_file(path: Path) -> str:
    """Why a path names no ordinary file, in words."""
    try:
        mode = os.stat(path).st_mode  # noqa: PTH116  # which raises less than pathlib's
    except (OSError, ValueError):
        return "does not exist"
    return "is a folder" if stat.S_ISDIR(mode) else "is no ordinary file"


def _reason(error: Exception) -> str:
    """What a library or the system found wrong, without the name of the file."""
    said = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return re.sub(_OPENING, "", said).rstrip(".")


def _cut_short(path: Path) -> str:
    """What a file lacks of the sound that it states, in words; empty where it is whole.

    Only WAV, AIFF and OGG are looked at: readers take the rest of these for the whole.
    """
    size = path.stat().st_size
    if not size:
        return "it holds nothing"
    with path.open("rb") as file:
        head = file.read(_HEADER_BYTES)
        if head[:4] == b"OggS":
            file.seek(max(size - _OGG_PAGE_BYTES, 0))
            page = file.read().rpartition(b"OggS")[2]
            whole = len(page) > 1 and bool(page[1] & _OGG_LAST)
            return "" if whole else "its last page is missing"
    order: dict[bytes, Literal["little", "big"]] = {b"RIFF": "little", b"FORM": "big"}
    if head[:4] not in order:
        return ""
    stated = int.from_bytes(head[4:8], order[head[:4]]) + 8
    if stated >= _UNKNOWN_BYTES or stated - size <= _MISSED * stated:
        return ""
    return f"it states {stated:,} bytes and holds {size:,}"


def _check_width(path: str | Path, noun: str, rate: int, channels: int) -> None:
    if rate > LARGEST_RATE_HZ or channels > MOST_CHANNELS:
        raise SoundError(
            f"The {noun} {path} has {channels} channels at {rate:,} Hz; basslint reads up to "
            f"{MOST_CHANNELS} at {LARGEST_RATE_HZ:,} Hz.",
            "Export it in stereo at 44,100 or 48,000 Hz.",
        )


def _damage(samples: Samples) -> str:
    """What no sound can hold among samples of any shape, in words; empty where all are levels."""
    if np.isfinite(samples).all():
        return ""
    return (
        "values that are no numbers" if np.isnan(samples).any() else "values far beyond full scale"
    )
