"""How strongly does each note seem to sound in each frame of a spectrum?

Approximate note transcription (Mauch & Dixon, ISMIR 2010): the whitened spectrum is explained as a
sum of tones with overtones, none less than nothing (non-negative least squares), so that an
overtone is not taken for a note where a lower note explains it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.spectra import BINS, PER_SEMITONE, bin_pitch

Singles = NDArray[np.float32]

FIRST_NOTE, LAST_NOTE = 28, 100  # E1, the bass guitar's lowest, to E7
NOTES = LAST_NOTE - FIRST_NOTE + 1
_OCTAVE = 12 * PER_SEMITONE
_FLOOR = 0.05  # of the loudest cell: spread below which whitening no longer lifts what is there
_WHITE = 0.7
_OVERTONES = 20
_FALL_LOW, _FALL_HIGH = 0.9, 0.6  # each overtone against the one below it, at E1 and at E7
_LEAST = np.float32(1e-8)
_ROUNDS = 60  # of multiplicative updates: further ones change the saliences by less than 1 %


def whiten(spectra: Singles) -> Singles:
    """Root of the magnitudes, less their mean over an octave, in units of their spread there."""
    root = np.sqrt(spectra)
    half = _OCTAVE // 2
    mean, square = _running(root, half), _running(root * root, half)
    spread = np.sqrt(np.maximum(square - mean * mean, 0.0))
    floor = _FLOOR * float(root.max(initial=1e-9))
    white = np.maximum(root - mean, 0.0) / (spread + np.float32(floor)) ** np.float32(_WHITE)
    return np.asarray(white, dtype=np.float32)


def _running(values: Singles, half: int) -> Singles:
    """Mean of each bin and ``half`` bins to either side, fewer at the edges."""
    total = np.cumsum(np.pad(values, ((0, 0), (1, 0))), axis=1, dtype=np.float64)
    at = np.arange(values.shape[1])
    low, high = np.maximum(at - half, 0), np.minimum(at + half + 1, values.shape[1])
    return np.asarray((total[:, high] - total[:, low]) / (high - low), dtype=np.float32)


def saliences(white: Singles) -> Singles:
    """Strength of the notes E1–E7 in each frame, float32 [frames, `NOTES`], no unit.

    ``white`` [frames, `BINS`] as from `whiten`.
    """
    table = _tones()
    gram = table @ table.T
    meets = white @ table.T
    guess = meets / np.float32(gram.sum(axis=0).mean())
    for _ in range(_ROUNDS):
        guess *= meets / (guess @ gram + np.float32(1e-6))
        np.maximum(guess, _LEAST, out=guess)  # numbers too small for the format are slow
    return guess


def _tones() -> Singles:
    """Spectrum of each note, roots of magnitudes, unit length, [`NOTES`, `BINS`]."""
    pitch = bin_pitch()
    table = np.zeros((NOTES, BINS), dtype=np.float32)
    for row in range(NOTES):
        note = FIRST_NOTE + row
        fall = _FALL_LOW + (_FALL_HIGH - _FALL_LOW) * row / (NOTES - 1)
        # what the window and the hats make of a sine: wide at the bottom, three bins further up
        for overtone in range(1, _OVERTONES + 1):
            at = note + 12.0 * np.log2(overtone)
            hertz = 440.0 * 2.0 ** ((at - 69.0) / 12.0)
            resolution = 4.0 / (0.372 if hertz < 400.0 else 0.186)
            wide = np.hypot(1.0 / PER_SEMITONE, 12.0 * np.log2(1.0 + resolution / 2 / hertz))
            shape = np.cos(np.clip((pitch - at) / wide, -1.0, 1.0) * np.pi / 2) ** 2
            table[row] += np.sqrt(fall ** (overtone - 1)) * shape
    table /= np.linalg.norm(table, axis=1, keepdims=True)
    return table
