"""How loud is a signal, how high does it peak between its samples, and how is it kept below a peak?

Source: ITU-R BS.1770-4: K-weighting (annex 1, given there at 48 kHz; other rates by the analogue
filters that those coefficients are the bilinear transforms of), gated loudness in blocks of 400 ms,
and the true peak as that of the signal at four times its rate (annex 2).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from basslint.util.columns import differences

Samples = NDArray[np.float64]

SILENCE = -np.inf  # LUFS of a signal that never passes the absolute gate
_BLOCK_S, _HOP_S = 0.4, 0.1
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0  # LUFS; LU below the mean of what passed the first
_OFFSET = -0.691  # dB: a 997 Hz sine at 0 dBFS measures −3.01 LUFS
# The analogue filters of BS.1770: corner (Hz), gain (dB), Q of the shelf; corner and Q of the RLB
_SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)
_SHELF_POWER = 0.4996667741545416
_SETTLE_S = 0.5  # by then the 38 Hz filter has forgotten (its slowest pole falls by 60 dB in 60 ms)
_TAPS = 12  # samples on either side that a value between two is interpolated from
_PIECE = 1 << 20  # samples that are worked on at once
_BLOCK = 1 << 12  # samples of which it is asked whether a peak may lie between them
_LOOK_S = 0.005  # how long before a peak the limiter begins to give way, and after it to come back


def k_filters(rate: int) -> tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]:
    """The two filters of the K-weighting as (b, a) of second order, a[0] = 1."""
    corner, gain, q = _SHELF
    k = np.tan(np.pi * corner / rate)
    high = 10.0 ** (gain / 20.0)
    band = high**_SHELF_POWER
    a0 = 1.0 + k / q + k * k
    shelf = (
        ((high + band * k / q + k * k) / a0, 2.0 * (k * k - high) / a0,
         (high - band * k / q + k * k) / a0),
        (1.0, 2.0 * (k * k - 1.0) / a0, (1.0 - k / q + k * k) / a0),
    )  # fmt: skip
    corner, q = _HIGH_PASS
    k = np.tan(np.pi * corner / rate)
    a0 = 1.0 + k / q + k * k
    high_pass = (
        (1.0, -2.0, 1.0),
        (1.0, 2.0 * (k * k - 1.0) / a0, (1.0 - k / q + k * k) / a0),
    )
    return shelf, high_pass


def loudness(samples: Samples, rate: int) -> float:
    """Integrated loudness of a mono signal in LUFS, `SILENCE` where nothing passes the gate.

    A signal shorter than a block is one block, filled up with silence.
    """
    block, hop = round(_BLOCK_S * rate), round(_HOP_S * rate)
    starts = np.arange(0, max(len(samples) - block, 0) + 1, hop)
    power = _power_until(
        samples, rate, np.stack((starts, np.minimum(starts + block, len(samples))))
    )
    mean = np.maximum((power[1] - power[0]) / block, 1e-30)
    passed = mean[_lufs(mean) > _ABSOLUTE_GATE]
    if not len(passed):
        return SILENCE
    gate = float(_lufs(passed.mean())) + _RELATIVE_GATE
    return float(_lufs(passed[_lufs(passed) > gate].mean()))


def _lufs(power: NDArray[np.float64] | np.float64) -> NDArray[np.float64]:
    return np.asarray(_OFFSET + 10.0 * np.log10(power))


def _power_until(samples: Samples, rate: int, places: NDArray[np.int64]) -> Samples:
    """The weighted signal's power summed up to each of ``places``, in the shape of ``places``.

    By pieces, each begun early enough for the filters to settle, so that memory does not follow
    the length of the signal.
    """
    power = np.zeros(places.shape)
    total, lead = 0.0, round(_SETTLE_S * rate)
    for begin in range(0, len(samples), _PIECE):
        first = max(begin - lead, 0)
        weighted = _weighted(samples[first : begin + _PIECE], rate)[begin - first :]
        summed = total + np.cumsum(weighted**2)
        inside = (places > begin) & (places <= begin + len(summed))
        power[inside] = summed[places[inside] - begin - 1]
        total = float(summed[-1])
    return power


def _weighted(samples: Samples, rate: int) -> Samples:
    """The signal after both filters, by their response: numpy has no recursive filter."""
    size = 1 << int(np.ceil(np.log2(max(len(samples) + round(_SETTLE_S * rate), 2))))
    step = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    spectrum = np.fft.rfft(samples, size)
    for b, a in k_filters(rate):
        spectrum *= (b[0] + b[1] * step + b[2] * step**2) / (a[0] + a[1] * step + a[2] * step**2)
    weighted: Samples = np.fft.irfft(spectrum, size)[: len(samples)]
    return weighted


@cache
def _between() -> NDArray[np.float64]:
    """Weights of the neighbours of the three values between two samples, [3, 2 * _TAPS]."""
    place = np.arange(-_TAPS + 1, _TAPS + 1)
    rows = []
    for quarter in (0.25, 0.5, 0.75):
        away = quarter - place
        rows.append(np.sinc(away) * (0.5 + 0.5 * np.cos(np.pi * away / _TAPS)))
    return np.array(rows)


def peaks(samples: Samples) -> Samples:
    """The greatest magnitude at and after each sample, up to the next one, at four times the rate.

    Shape as ``samples``.
    """
    high = np.abs(samples)
    if not len(samples):
        return high
    padded = np.concatenate((np.zeros(_TAPS - 1), samples, np.zeros(_TAPS)))
    for weights in _between():
        high = np.maximum(high, np.abs(np.convolve(padded, weights[::-1], "valid")))
    return high


def true_peak(samples: Samples) -> float:
    """The true peak as a share of full scale.

    Values between samples are only worked out where they may pass what is found already: each is a
    sum of its neighbours, and so cannot pass their greatest magnitude by more than the weights add
    up to, nor its own neighbour's by more than the steps between samples there allow.
    """
    count = -(-len(samples) // _BLOCK)
    level, step = np.zeros(count + 2), np.zeros(count + 2)  # greatest in a block, silence around
    most_at_once = -(-_PIECE // _BLOCK) * _BLOCK
    for begin in range(0, len(samples), most_at_once):
        piece = np.zeros(-(-min(len(samples) - begin, most_at_once) // _BLOCK) * _BLOCK + 1)
        held = samples[begin : begin + len(piece)]
        piece[: len(held)] = held
        blocks = slice(1 + begin // _BLOCK, 1 + begin // _BLOCK + (len(piece) - 1) // _BLOCK)
        level[blocks] = _greatest(piece[:-1])
        step[blocks] = _greatest(differences(piece))
    highest = float(level.max(initial=0.0))
    weights = np.abs(_between())
    total = float(weights.sum(axis=1).max())
    own = float(np.abs(_between().sum(axis=1)).max())
    away = float((weights * np.abs(np.arange(-_TAPS + 1, _TAPS + 1))).sum(axis=1).max())
    most = np.minimum(total * _of_three(level), own * level[1:-1] + away * _of_three(step))
    for row in np.argsort(-most).tolist():
        if most[row] <= highest:
            break
        begin = row * _BLOCK
        first = max(begin - _TAPS, 0)
        found = peaks(samples[first : begin + _BLOCK + _TAPS])
        highest = max(highest, float(found[begin - first :][:_BLOCK].max(initial=0.0)))
    return highest


def _greatest(piece: Samples) -> Samples:
    """The greatest magnitude in each block; no second copy of the piece is made for it."""
    blocks = piece.reshape(-1, _BLOCK)
    greatest: Samples = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))
    return greatest


def _of_three(values: Samples) -> Samples:
    """The greatest of each value and its two neighbours, [n - 2]."""
    return np.maximum(np.maximum(values[:-2], values[2:]), values[1:-1])


def limited(samples: Samples, ceiling: float, rate: int) -> Samples:
    """The signal with its true peak at or below ``ceiling``, turned down smoothly around peaks.

    The gain is the lowest that any peak within `_LOOK_S` needs, averaged over as long: no average
    of gains that all suffice is higher than what suffices.
    """
    result = np.empty(len(samples))
    side = 2 * round(_LOOK_S * rate) + _TAPS + 1  # what the gain at a sample may hang on
    for begin in range(0, len(samples), _PIECE):
        first = max(begin - side, 0)
        piece = _limited(samples[first : begin + _PIECE + side], ceiling, rate)
        result[begin : begin + _PIECE] = piece[begin - first :][:_PIECE]
    return result


def _limited(samples: Samples, ceiling: float, rate: int) -> Samples:
    """A piece of a signal, limited."""
    need = np.minimum(1.0, ceiling / np.maximum(peaks(samples), 1e-12))
    need[1:] = np.minimum(need[1:], need[:-1])  # a value between two samples belongs to both
    if need.min(initial=1.0) >= 1.0:
        return samples
    look = round(_LOOK_S * rate)
    lowest = _lowest_of(np.concatenate((np.ones(look), need, np.ones(look))), 2 * look + 1)
    padded = np.concatenate((np.full(look, lowest[0]), lowest, np.full(look, lowest[-1])))
    total = np.concatenate(([0.0], np.cumsum(padded)))
    gain = (total[2 * look + 1 :] - total[: -2 * look - 1]) / (2 * look + 1)
    result: Samples = samples * gain
    return result


def _lowest_of(values: Samples, count: int) -> Samples:
    """The minimum of every ``count`` neighbours, [n − count + 1], by windows that double."""
    window = 1
    while 2 * window <= count:
        values = np.minimum(values[:-window], values[window:])
        window *= 2
    if window < count:
        values = np.minimum(values[: len(values) - (count - window)], values[count - window :])
    return values
