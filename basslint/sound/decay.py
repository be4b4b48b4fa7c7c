"""How long does a sound ring? Its level curve, and the straight line through it.

Source: ISO 3382: a line through the curve from 5 dB below its peak down to 35 dB below (or to 10 dB
above the noise), carried on to 60 dB.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.theory.acoustics import T60_FALL_DB
from basslint.util.records import record

# ISO 3382: where the line through the decay begins and ends
_FIT_FROM_DB, _FIT_TO_DB = -5.0, -35.0
_ABOVE_NOISE_DB = 10.0
LEAST_FALL_DB = 6.0  # less of a fall carries no line on to 60 dB (common practice, no source)


@record(kw_only=True)
class Decay:
    """A straight line through a level curve: ``t60_s``, and the stretch that it was fitted to."""

    t60_s: float
    from_s: float
    to_s: float
    from_db: float
    to_db: float
    error_db: float


def power_curve(
    band: NDArray[np.float64], rate: float, period_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean power of all channels over one period of the pitch, and the middle of each window (s).

    A whole period takes in every wave of the fundamental and its overtones alike, so the curve of
    a decaying tone has no ripple.
    """
    width = min(max(round(period_s * rate), 2), len(band) // 2)
    total = np.concatenate(([0.0], np.cumsum((band**2).mean(axis=1))))
    power = np.maximum(total[width:] - total[:-width], 0.0) / width
    time = (np.arange(len(power)) + width / 2) / rate
    return np.asarray(time, dtype=np.float64), np.asarray(power, dtype=np.float64)


def fit_decay(
    time: NDArray[np.float64], power: NDArray[np.float64], not_before_s: float
) -> tuple[Decay | None, float | None]:
    """The decay of a power curve, and the level of the noise under it (dB below the peak).

    ``not_before_s``: the line begins no earlier (where a sound clips, its level tells nothing).
    None where the level falls by less than 6 dB, or there is no noise to be seen.
    """
    top = int(np.argmax(power))
    level = decibels(power / power[top])
    low = np.flatnonzero((level <= _FIT_FROM_DB) & (np.arange(len(level)) > top))
    if not len(low):
        return None, None
    begin = max(int(low[0]), int(np.searchsorted(time, not_before_s)))
    if len(time) - begin < 8:
        return None, None
    noise_db = _noise_level(time, level, begin)
    noise = 10 ** (noise_db / 10) if noise_db is not None else 0.0
    clean = decibels(np.maximum(power / power[top] - noise, 0.0))
    floor = clean[begin] + _FIT_TO_DB - _FIT_FROM_DB
    if noise_db is not None:
        floor = max(floor, noise_db + _ABOVE_NOISE_DB)
    under = np.flatnonzero(level[begin:] <= floor)
    end = begin + (int(under[0]) if len(under) else len(level) - begin - 1)
    if end - begin < 4:
        return None, noise_db
    x, y = time[begin:end], clean[begin:end]
    slope, start = np.polyfit(x - x[0], y, 1)
    fall = float(-slope * (x[-1] - x[0]))
    if fall < LEAST_FALL_DB:
        return None, noise_db
    stray = float(np.sqrt(np.mean((y - start - slope * (x - x[0])) ** 2)))
    return (
        Decay(
            t60_s=T60_FALL_DB / float(-slope),
            from_s=float(x[0]),
            to_s=float(x[-1]),
            from_db=float(start),
            to_db=float(start) - fall,
            error_db=stray,
        ),
        noise_db,
    )


def _noise_level(time: NDArray[np.float64], level: NDArray[np.float64], begin: int) -> float | None:
    """Level of the last quarter, where it falls much more slowly than all before it: noise."""
    tail = len(level) - (len(level) - begin) // 4
    if len(level) - tail < 8:
        return None
    before = (level[begin] - level[tail]) / (time[tail] - time[begin])
    within = -np.polyfit(time[tail:] - time[tail], level[tail:], 1)[0]
    if level[tail] > -2 * LEAST_FALL_DB or within > 0.25 * before:
        return None
    return 10 * float(np.log10(np.mean(10 ** (level[tail:] / 10))))


def decibels(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Decibels of a power ratio, −120 at the least."""
    return np.asarray(10 * np.log10(np.maximum(power, 1e-12)), dtype=np.float64)
