"""How loud is a signal, and how loud is it once some of it was changed?

Source: ITU-R BS.1770-4, annex 1: gated loudness of the K-weighted signal (`weighting`) in blocks of
400 ms that overlap by 300. So the signal is weighed by tenths of a second, and a block is four.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from basslint.audition.weighting import weighted
from basslint.util.columns import ends_of, turns

Samples = NDArray[np.float64]

SILENCE = -np.inf  # LUFS of a signal that never passes the absolute gate
_TENTH_S = 0.1
_BLOCK = 4  # tenths
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0  # LUFS; LU below the mean of what passed the first
_OFFSET = -0.691  # dB: a 997 Hz sine at 0 dBFS measures −3.01 LUFS
_PIECE = 1 << 16  # samples that are weighed at once: they stay in the processor's cache
_RINGS = 2  # tenths in which both filters forget what was: the lower one's 38 Hz fall by 400 dB


def loudness(samples: Samples, rate: int) -> float:
    """Integrated loudness of a mono signal in LUFS, `SILENCE` where nothing passes the gate.

    A signal shorter than a block is one block, filled up with silence.
    """
    return integrated(powers(samples, rate))


def powers(samples: Samples, rate: int) -> Samples:
    """Mean power of the weighted signal in each whole tenth of a second, [n]; at least a block.

    By pieces, so that memory does not follow the length of the signal.
    """
    size = round(_TENTH_S * rate)
    power = np.zeros(max(-(-len(samples) // size), _BLOCK))
    begin = 0
    for piece in weighted(samples, rate, _PIECE):
        cuts = np.arange(-(begin % size), len(piece), size)
        cuts[0] = 0
        power[begin // size :][: len(cuts)] += np.add.reduceat(piece * piece, cuts)
        begin += len(piece)
    return power[: max(len(samples) // size, _BLOCK)] / size


def powers_again(
    power: Samples, samples: Samples, rate: int, places: Iterable[tuple[int, int]]
) -> Samples:
    """`powers` of a signal that had ``power`` before it was changed at some places, each a first
    sample and a count."""
    size, result = round(_TENTH_S * rate), power.copy()
    changed = np.zeros(len(power), dtype=bool)
    for at, count in places:
        changed[at // size : (at + count) // size + _RINGS + 1] = True
    begins = np.flatnonzero(turns(changed))
    for first, beyond in zip(begins.tolist(), ends_of(begins, len(power)).tolist(), strict=True):
        if changed[first]:
            before = max(first - _RINGS, 0)
            held = powers(samples[before * size : beyond * size], rate)
            result[first:beyond] = held[first - before : beyond - before]
    return result


def integrated(power: Samples) -> float:
    """Integrated loudness in LUFS of what has some ``power`` in each tenth of a second."""
    blocks = power[: len(power) - _BLOCK + 1].copy()
    for later in range(1, _BLOCK):
        blocks += power[later : len(power) - _BLOCK + 1 + later]
    mean = np.maximum(blocks / _BLOCK, 1e-30)
    passed = mean[_lufs(mean) > _ABSOLUTE_GATE]
    if not len(passed):
        return SILENCE
    gate = float(_lufs(passed.mean())) + _RELATIVE_GATE
    return float(_lufs(passed[_lufs(passed) > gate].mean()))


def _lufs(power: NDArray[np.float64] | np.float64) -> NDArray[np.float64]:
    return np.asarray(_OFFSET + 10.0 * np.log10(power))
