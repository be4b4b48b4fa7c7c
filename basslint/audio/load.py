"""What does a sound file hold, as one channel at the rate at which loops are analysed?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.audio.spectra import RATE_HZ
from basslint.errors import SoundError
from basslint.sound.opening import checked_peak, opened, silence
from basslint.util.records import record

Singles = NDArray[np.float32]

LONGEST_S = 600.0  # a loop, or a whole song; ten minutes more is a wrong file
SHORTEST_S = 0.5  # an eighth at 60 bpm: less holds no chord
_SILENT_DB = -70.0  # below full scale: a 16-bit file with nothing but dither lies at −93
_FULL = 0.999  # of full scale: samples that stand there one after another were cut off
_CLIPPED_SHARE = 1e-3  # of the samples: a limiter touches the top, clipping rests there
_CHUNK_S, _SIDE_S = 10, 1  # whole seconds: then any whole rate turns into whole samples
_CANCELS = 0.05  # of the channels' power that is left of them as one: of unrelated ones half is
_OFFSET = 0.05  # of the peak: less is what old converters do
_GIVE_MUSIC = "Give a file in which the loop sounds."
_CANCELLED = "Its channels cancel each other out as one, as it is heard here: give one of them."
_FLANK = 0.92  # of the lower Nyquist frequency, from which on the anti-alias filter falls


@record(eq=False, kw_only=True)
class Sound:
    """One sound file.

    ``samples`` float32 [n]: the mean of its channels at `RATE_HZ`, full scale at 1, constant offset
    removed. ``duration_s`` seconds, ``rate`` Hz and ``channels`` as in the file. ``peak`` 0..: of
    any channel. ``remarks``: plain sentences on what the listener has to put up with.
    """

    path: str
    samples: Singles
    duration_s: float
    rate: int
    channels: int
    peak: float
    remarks: tuple[str, ...]


def read_loop(path: str | Path, longest_s: float = LONGEST_S) -> Sound:
    """Read a WAV, FLAC, AIFF or OGG file.

    Raises `SoundError` for a file that is missing, no sound, silent, too short or too long.
    """
    return opened(path, "loop", lambda sound: _read(sound, str(path), longest_s))


def sound_length(path: str | Path) -> float:
    """How many seconds a sound file lasts. Raises `SoundError` as `read_loop` does."""
    return opened(path, "loop", lambda sound: float(sound.frames) / float(sound.samplerate))


def _read(sound: Any, path: str, longest_s: float) -> Sound:
    """Check the bounds, then read chunk by chunk, so that memory follows the seconds alone."""
    rate, channels, frames = int(sound.samplerate), int(sound.channels), int(sound.frames)
    _check_length(path, frames / rate, longest_s)
    pieces: list[Singles] = []
    peak, full, low, high = 0.0, 0, np.inf, -np.inf
    power, of_mono = 0.0, 0.0
    for begin in range(0, frames, _CHUNK_S * rate):
        lead = min(_SIDE_S * rate, begin)
        sound.seek(begin - lead)
        block = sound.read(lead + (_CHUNK_S + _SIDE_S) * rate, dtype="float32", always_2d=True)
        peak = max(peak, checked_peak(block, "loop", path))
        own = block[lead : lead + _CHUNK_S * rate]
        low, high = min(low, float(own.min())), max(high, float(own.max()))
        inside = np.abs(own)
        full += int((inside >= _FULL).all(axis=1).sum())
        mono = block.mean(axis=1)
        if channels > 1:
            power += float(own.var(axis=0).mean()) * len(own)
            of_mono += float(mono[lead : lead + len(own)].var()) * len(own)
        pieces.append(_chunk(mono, rate, lead))
    samples = np.concatenate(pieces)[: round(frames * RATE_HZ / rate)]
    offset = float(samples.mean(dtype=np.float64))
    samples -= np.float32(offset)
    if high - low < 10 ** (_SILENT_DB / 20):
        raise silence("loop", path, peak > _OFFSET, _GIVE_MUSIC)
    remarks = _remarks(full / max(frames, 1), rate, offset / max(peak, 1e-9))
    if of_mono < _CANCELS * power:
        remarks += (_CANCELLED,)
    return Sound(
        path=path,
        samples=samples,
        duration_s=frames / rate,
        rate=rate,
        channels=channels,
        peak=peak,
        remarks=remarks,
    )


def _check_length(path: str, seconds: float, longest_s: float) -> None:
    if seconds < SHORTEST_S:
        raise SoundError(
            f"The loop {path} lasts {seconds * 1000:.0f} ms, too short for a chord.",
            "Give the whole loop.",
        )
    if seconds > longest_s:
        raise SoundError(
            f"The loop {path} lasts {seconds:,.0f} s; basslint hears up to {longest_s:,.0f} s.",
            "Cut the loop out of it, or raise the limit `max_loop_s`.",
        )


def _chunk(mono: Singles, rate: int, lead: int) -> Singles:
    """The chunk at `RATE_HZ`, resampled by its spectrum; ``lead`` samples before it are known.

    A spectrum takes its sound as a circle, so a second to either side fades in and out.
    """
    side = _SIDE_S * rate
    padded = np.zeros((_CHUNK_S + 2 * _SIDE_S) * rate, dtype=np.float32)
    padded[side - lead : side - lead + len(mono)] = mono
    ramp = np.arange(side, dtype=np.float32) / side
    padded[:side] *= ramp
    padded[-side:] *= ramp[::-1]
    spectrum = np.fft.rfft(padded)
    seconds = _CHUNK_S + 2 * _SIDE_S  # bins lie 1/seconds Hz apart at either rate
    bins = seconds * min(rate, RATE_HZ) // 2 + 1
    kept = np.zeros(seconds * RATE_HZ // 2 + 1, dtype=spectrum.dtype)
    flank = np.clip((1.0 - np.arange(bins) / bins) / (1.0 - _FLANK), 0.0, 1.0)
    kept[:bins] = spectrum[:bins] * flank
    sound = np.fft.irfft(kept, seconds * RATE_HZ) * (RATE_HZ / rate)
    first = _SIDE_S * RATE_HZ
    return sound[first : first + _CHUNK_S * RATE_HZ].astype(np.float32)


def _remarks(clipped: float, rate: int, offset: float) -> tuple[str, ...]:
    found = []
    if clipped > _CLIPPED_SHARE:
        found.append(
            f"It clips for {clipped:.1%} of its time: overtones are heard that none played."
        )
    if rate < RATE_HZ:
        found.append(f"At {rate:,} Hz its brightness is missing: high notes are heard less surely.")
    if abs(offset) > _OFFSET:
        found.append("It stands off the zero line by a constant offset, which was taken out.")
    return tuple(found)
