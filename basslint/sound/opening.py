"""How is a file of sound opened, and which levels can no sound hold? For one-shots and loops."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

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


def opened(path: str | Path, noun: str, ask: Callable[[Any], Answer]) -> Answer:
    """What ``ask`` says of an open sound file; ``noun``: what messages call it, such as "loop".

    Raises `SoundError` for a file that is missing, no sound, or wider than any interface records.
    """
    import soundfile

    file = Path(path)
    if not is_file(file):
        what = "is a folder" if os.path.isdir(file) else "does not exist"  # noqa: PTH112  # never raises
        raise SoundError(f"The {noun} {path} {what}.", _KINDS)
    try:
        with soundfile.SoundFile(str(file)) as sound:
            _check_width(path, noun, int(sound.samplerate), int(sound.channels))
            return ask(sound)
    except SoundError:
        raise
    except (soundfile.SoundFileError, OSError, ValueError) as error:
        raise SoundError(
            f"{path} cannot be read as a sound ({str(error).rstrip('.')}).", _KINDS
        ) from error


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
