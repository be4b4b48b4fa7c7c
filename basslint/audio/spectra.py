"""How loud is each third of a semitone, at each moment of a sound?

Two resolutions: low notes need a long window to be told apart, high ones a short one to be told in
time. (Constant-Q idea: Brown, JASA 1991; two windows instead of one per bin for the sake of speed.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]

RATE_HZ = 11_025  # of the sound as it is analysed: up to 5 kHz there is all that tells notes
HOP = 512  # samples between frames, 46 ms: an eighth at 190 bpm holds three
FRAME_S = HOP / RATE_HZ
LONG, SHORT = 4096, 2048  # samples of the windows, 372 and 186 ms: half a semitone at E3 and E4
_PARTED_HZ = 400.0  # below, the long window speaks: a semitone of middle C is wider than its bins
PER_SEMITONE = 3  # bins: the middle one is the note, its neighbours catch what lies beside it
# MIDI numbers of the outermost semitones (41 Hz – 4.7 kHz with their sides).
LOWEST, HIGHEST = 27, 110
BINS = (HIGHEST - LOWEST + 1) * PER_SEMITONE
_BLOCK = 256  # frames transformed at a time: bounds the memory, whatever the length


def bin_pitch() -> NDArray[np.float64]:
    """Pitch of each bin, MIDI numbers with fractions, [`BINS`]."""
    side = PER_SEMITONE // 2
    return LOWEST + (np.arange(BINS) - side) / PER_SEMITONE


def frame_count(samples: int) -> int:
    """Frames of so many samples at `RATE_HZ`; frame k is centred on sample k * `HOP`."""
    return samples // HOP + 1


def log_spectra(sound: Singles, tuning_cents: float) -> Singles:
    """Magnitude by bin and frame, float32 [frames, `BINS`], a full-scale sine about 1.

    ``sound`` float32 [samples] at `RATE_HZ`. ``tuning_cents``: how far its notes lie above A = 440;
    the bins move with it.
    """
    hertz = 440.0 * 2.0 ** ((bin_pitch() - 69.0 + tuning_cents / 100.0) / 12.0)
    low = int(np.searchsorted(hertz, _PARTED_HZ))
    frames = frame_count(len(sound))
    result = np.empty((frames, BINS), dtype=np.float32)
    padded = np.concatenate(
        (np.zeros(LONG // 2, np.float32), sound, np.zeros(LONG // 2 + HOP, np.float32))
    )
    for size, part in ((LONG, slice(0, low)), (SHORT, slice(low, BINS))):
        first, table = _kernel(hertz[part], size)
        window = (np.hanning(size + 1)[:-1] * (4.0 / size)).astype(np.float32)
        views = np.lib.stride_tricks.sliding_window_view(padded[(LONG - size) // 2 :], size)[::HOP]
        for begin in range(0, frames, _BLOCK):
            block = views[begin : min(begin + _BLOCK, frames)]
            spectrum = np.abs(np.fft.rfft(block * window, axis=1))
            result[begin : begin + len(block), part] = (
                spectrum[:, first : first + len(table)].astype(np.float32) @ table
            )
    return result


def _kernel(hertz: NDArray[np.float64], size: int) -> tuple[int, Singles]:
    """First FFT bin used, and the weight of each FFT bin in each log bin, [fft bins, log bins].

    Hats one log bin wide to either side, at least one FFT bin: then it is plain interpolation.
    """
    step = RATE_HZ / size
    width = np.maximum(hertz * (2.0 ** (1.0 / (12 * PER_SEMITONE)) - 1.0), step)
    first = max(int((hertz[0] - width[0]) / step), 0)
    last = min(int((hertz[-1] + width[-1]) / step) + 1, size // 2)
    centre = np.arange(first, last + 1) * step
    table = np.maximum(1.0 - np.abs(centre[:, None] - hertz) / width, 0.0)
    table /= np.maximum(table.sum(axis=0), 1e-9)
    return first, table.astype(np.float32)
