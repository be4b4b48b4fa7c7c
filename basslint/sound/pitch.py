"""At which pitch does a bass sound settle?

Many bass sounds fall in pitch when they are struck. What they are tuned by is where they settle:
the period is found late in the sound by its difference function (de Cheveigné & Kawahara 2002),
then followed through the whole of it by the phase of the fundamental, and the curve of that is
carried on to where it is bound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LOWEST_HZ, HIGHEST_HZ = 20.0, 500.0
SETTLED_CENTS = 5.0  # about what the ear can tell at these frequencies (common practice, no source)
_DIP = 0.15  # of the difference function: the usual threshold of the method
_NO_PITCH = 0.4  # nothing dips below this: noise
_NOISE_DB = -66.0  # below the peak: no less noise is counted on, even where none is heard
_ABOVE_NOISE_DB = 6.0  # where a pitch that is known can be followed to
_CLEAR_OF_NOISE_DB = 15.0  # where one that is not known can be found
_WEIGH_DB = 20.0  # above the noise a moment weighs half of a clear one: its phase is uncertain
_EVERY_S = 0.002
_STEADY_PERIODS = 3  # fewer give no pitch
_EXPLAINS = 0.5  # of the squared error: what a fall must leave at most, to be taken for one
_NEAR_CENTS = 200.0  # of the end: from there on a falling pitch is near an exponential
_SLOWEST_S = 0.15  # longest time constant of a fall that still counts as the sound's beginning


@dataclass(frozen=True, slots=True)
class Pitch:
    """Frequency of the settled sound, and the second from which on it stays within 5 cents.

    ``settled_s`` is None where the sound fades before its pitch has come to rest: then ``hz`` is
    where it was bound for, which is rough.
    """

    hz: float
    settled_s: float | None


def hear_pitch(
    band: NDArray[np.float64], rate: float, t60_s: float | None, noise_db: float | None
) -> Pitch | None:
    """The settled pitch of a mono sound (float64 [n], band-limited), None where there is none.

    ``t60_s`` and ``noise_db`` (below the peak) as measured: the decay is taken out first, so that
    the sound repeats itself period by period, and what sinks into the noise is left out.
    """
    envelope = _envelope(band, rate)
    first = int(np.argmax(envelope))
    noise = _NOISE_DB if noise_db is None else max(noise_db, _NOISE_DB)
    last = _last_above(envelope, noise + _ABOVE_NOISE_DB)
    time = np.arange(len(band)) / rate
    growth = 0.0 if t60_s is None else 3.0 * np.log(10.0) / t60_s
    even = band[:last] * np.exp(growth * (time[:last] - time[last - 1]))
    clear = max(_last_above(envelope, noise + _CLEAR_OF_NOISE_DB), first + int(0.05 * rate))
    hz = _period(even[:clear], rate, first)
    if hz is None:
        return None
    power = envelope[:last] ** 2
    weight = power / (power + power[first] * 10 ** ((noise + _WEIGH_DB) / 10))
    settled: float | None = None
    for _ in range(4):  # the fundamental is followed at the frequency found, then found better
        cycles, at = _follow(even, rate, hz, first)
        if len(cycles) < 8:
            break
        shift, settled = _settle(at, cycles, weight[(at * rate).astype(int)], hz)
        if not 0.8 < 1 + shift / hz < 1.25:
            break
        hz += shift
        if abs(shift / hz) < 1e-5:
            break
    return Pitch(hz, settled)


def _last_above(envelope: NDArray[np.float64], decibels: float) -> int:
    """One past the last sample that is no further than this below the loudest."""
    return int(np.flatnonzero(envelope >= envelope.max() * 10 ** (decibels / 20))[-1]) + 1


def _envelope(band: NDArray[np.float64], rate: float) -> NDArray[np.float64]:
    width = max(int(rate / 40), 2)  # 25 ms, about a period
    window = np.hanning(width + 2)[1:-1]
    power = np.convolve(band**2, window / window.sum(), mode="same")
    return np.asarray(np.sqrt(np.maximum(power, 0.0)), dtype=np.float64)


def _period(even: NDArray[np.float64], rate: float, first: int) -> float | None:
    """Rough frequency from the end of the sound: the longest stretch that repeats itself."""
    longest = 3.5 / LOWEST_HZ
    for seconds in (longest, longest / 1.5, longest / 2.2, longest / 3.5):
        length = min(int(seconds * rate), len(even) - first)
        part = even[len(even) - length :]
        lags = min(int(rate / LOWEST_HZ), int(length / 2.1))
        found = _dip(part, lags, rate) if lags > rate / HIGHEST_HZ + 3 else None
        if found is not None:
            return found
    return None


def _dip(part: NDArray[np.float64], lags: int, rate: float) -> float | None:
    """Frequency of the first deep dip of the cumulative mean normalised difference function."""
    size = len(part) - lags
    energy = np.concatenate(([0.0], np.cumsum(part**2)))
    reach = np.arange(lags + 1)
    own = energy[size]
    shifted = energy[reach + size] - energy[reach]
    n = 1 << int(len(part) + size).bit_length()
    cross = np.fft.irfft(np.fft.rfft(part, n) * np.conj(np.fft.rfft(part[:size], n)), n)
    difference = np.maximum(own + shifted - 2 * cross[: lags + 1], 0.0)
    total = np.cumsum(difference[1:])
    normal = np.append(1.0, difference[1:] * np.arange(1, lags + 1) / np.maximum(total, 1e-12))
    lowest = int(rate / HIGHEST_HZ)
    span = normal[lowest:]
    if len(span) < 3:
        return None
    dips = 1 + np.flatnonzero((span[1:-1] <= span[:-2]) & (span[1:-1] < span[2:]))
    if not len(dips):
        return None
    deepest = float(span[dips].min())
    if deepest > _NO_PITCH:
        return None
    best = int(dips[span[dips] <= max(_DIP, deepest + 0.1)][0])  # later ones are its multiples
    left, middle, right = span[best - 1 : best + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend > 0 else 0.0
    return float(rate / (lowest + best + shift))


def _follow(
    even: NDArray[np.float64], rate: float, hz: float, first: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """By how many cycles the fundamental runs ahead of a steady ``hz``, and when (s), [k].

    Taken from the strongest of the first three partials. A raised-cosine window two periods long
    is deaf to its neighbours: the window's zeros lie on them.
    """
    width = max(round(2 * rate / hz), 4)
    window = np.hanning(width + 1)[:-1]
    window /= window.sum()
    time = np.arange(len(even) - first) / rate
    best = np.zeros(0, dtype=np.complex128)
    order = 1
    for partial in (1, 2, 3):
        wave = even[first:] * np.exp(-2j * np.pi * partial * hz * time)
        tone = np.convolve(wave, window, mode="valid") if len(wave) >= width else best
        if partial == 1 or np.abs(tone).sum() > 2.0 * np.abs(best).sum():
            best, order = tone, partial
    every = max(int(rate * _EVERY_S), 1)
    cycles = np.unwrap(np.angle(best))[::every] / (2 * np.pi * order)
    at = (first + width / 2 + np.arange(len(cycles)) * every) / rate
    return cycles, np.asarray(at, dtype=np.float64)


def _settle(
    time: NDArray[np.float64], cycles: NDArray[np.float64], weight: NDArray[np.float64], hz: float
) -> tuple[float, float | None]:
    """How far (Hz) from ``hz`` the pitch settles, and from when on (s) it is within 5 cents of it.

    The phase of what has nearly settled is fitted with a steady tone, or with one that an
    exponential fall still adds to, where that explains much of what the first leaves. None for the
    moment where fewer than three steady periods follow it.
    """
    lag = max(round(1.0 / hz / _EVERY_S), 1)
    track = hz + (cycles[lag:] - cycles[:-lag]) / (time[lag:] - time[:-lag])
    cents = 1200 * np.log2(np.maximum(track, 1.0) / hz)
    far = np.flatnonzero(np.abs(cents - np.median(cents[len(cents) // 2 :])) > _NEAR_CENTS)
    far = far[far < len(cents) // 2]
    begin = int(far[-1]) + 1 if len(far) else 0
    x, y, w = time[begin:] - time[begin], cycles[begin:], np.sqrt(weight[begin:])
    steady = np.stack((np.ones_like(x), x), axis=1)
    best, parts, constant = *_least_squares(steady, y, w), 0.0
    limit = _EXPLAINS * best
    for tried in np.geomspace(0.005, max(min(_SLOWEST_S, x[-1] / 2), 0.006), 20).tolist():
        falling = np.column_stack((steady, np.exp(-x / tried)))
        error, found = _least_squares(falling, y, w)
        if error < min(best, limit):
            best, parts, constant = error, found, tried
    shift = float(parts[1])
    settled = float(time[begin])
    if constant:
        slope = abs(float(parts[2])) / constant  # Hz off at the beginning of the fit
        allowed = hz * (2 ** (SETTLED_CENTS / 1200) - 1)
        settled += constant * float(np.log(max(slope / allowed, 1.0)))
    return shift, settled if settled + _STEADY_PERIODS / hz <= time[-1] else None


def _least_squares(
    columns: NDArray[np.float64], y: NDArray[np.float64], w: NDArray[np.float64]
) -> tuple[float, NDArray[np.float64]]:
    solved = np.linalg.lstsq(columns * w[:, None], y * w, rcond=None)[0]
    parts = np.asarray(solved, dtype=np.float64)
    return float(np.sum((w * (y - columns @ parts)) ** 2)), parts
