"""Where does the pitch of a struck sound come to rest, and when?

Many bass sounds fall in pitch when they are struck. The phase of the strongest partial is followed
through the sound, and its curve carried on to where it is bound: a steady tone, one that a fall
still adds to (exponential, or straight down to where it ends), or one that sways.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.util.records import record

Floats = NDArray[np.float64]

SETTLED_CENTS = 5.0  # about what the ear can tell at these frequencies (common practice, no source)
_EVERY_S = 0.002
STEADY_PERIODS = 3  # after a fall; fewer give no pitch
_LEAST_PERIODS = 1.5  # of a pitch that never fell, beyond the window that follows it
_EARLIEST_END_S, _LATEST_END_S = 0.01, 0.35  # of a straight fall at the sound's beginning
_ENDS_BY = 0.9  # of the stretch: a straight fall that ends later has not been seen to end
_NEARLY = 0.25  # a curve that leaves up to four times the least squared error may be the true one
_EXPLAINS = 0.5  # of the squared error: less must be left to take a fall or a sway for one
_LEAST_SWAYS = 1.2  # periods of a vibrato in the stretch: less than a whole one is none
_NEAR_CENTS = 200.0  # of the end: from there on a falling pitch is near an exponential
_SLOWEST_S = 0.15  # longest time constant of a fall that still counts as the sound's beginning
_SWAY_HZ = (2.5, 8.5)  # how often vibrato comes and goes (common practice, no source)
_ROUNDS = 4  # the partial is followed at the frequency found, which is then found better
_MOST_POINTS = 300  # of a phase curve: more say nothing new, and cost
# Root mean square: what strays less from a steady tone neither falls nor sways.
_STILL_CYCLES = 0.004
_STRONGER = 2.0  # times the fundamental: a partial that is followed in its place


@record(kw_only=True)
class Rest:
    """Where a pitch comes to rest: ``hz``, ``settled_s`` from when on it stays within 5 cents.

    ``settled_s`` is None where the sound fades before that. ``doubt`` cents: how far two halves of
    what was followed differ in pitch; ``sway`` cents: half the width of a vibrato. A pitch that
    falls lies ``fall`` Hz above ``hz`` at second ``from_s``; a time ``constant`` s later it has
    come down to 1/e of that, or, where ``straight``, to ``hz``. ``until_s``: where it could be
    followed to. ``spread`` cents: how far apart the pitches are that nearly as likely curves are
    bound for.
    """

    hz: float
    settled_s: float | None
    doubt: float
    sway: float
    fall: float = 0.0
    constant: float = 0.0
    from_s: float = 0.0
    until_s: float = 0.0
    straight: bool = False
    spread: float = 0.0

    def at(self, time: Floats | float) -> Floats:
        """The pitch at some seconds of the sound, Hz, any sway left out."""
        if not self.constant:
            return np.full(np.shape(time), self.hz)
        passed = (np.asarray(time, dtype=np.float64) - self.from_s) / self.constant
        left = np.maximum(1.0 - passed, 0.0) if self.straight else np.exp(-passed)
        return np.asarray(self.hz + self.fall * left)


def come_to_rest(
    even: Floats, rate: float, hz: float, first: int, last: int, weight: Floats
) -> Rest | None:
    """Find better where a pitch near ``hz`` comes to rest, between two samples of a sound.

    ``even`` float64 [n] with its decay undone, ``weight`` float64 [n]: how much each sample is to
    be trusted. None where too little is there to follow, or the pitch found lies far from ``hz``.
    """
    found: _Line | None = None
    at = cycles = np.zeros(0)
    for _ in range(_ROUNDS):
        cycles, at = _follow(even, rate, hz, first, last)
        if len(cycles) < 8:
            return None
        found = _fit(at, cycles, weight[(at * rate).astype(int)], hz)
        if not 0.8 < 1 + found.shift / hz < 1.25:
            return None
        hz += found.shift
        if abs(found.shift / hz) < 1e-5:
            break
    assert found is not None
    allowed = hz * (2 ** (SETTLED_CENTS / 1200) - 1)
    settled = float(at[found.begin])
    rests = found.falls <= allowed and settled + _LEAST_PERIODS / hz <= at[-1]
    if found.constant:
        steep = max(abs(found.slope) / allowed, 1.0)
        fallen = settled + found.constant * (
            1.0 - 1.0 / steep if found.straight else float(np.log(steep))
        )
        if fallen + STEADY_PERIODS / hz <= at[-1]:
            settled, rests = fallen, True
    cents = 1200 / np.log(2) / hz
    return Rest(
        hz=hz,
        settled_s=settled if rests else None,
        doubt=found.doubt * cents,
        sway=found.sway * cents,
        fall=-found.slope,
        constant=found.constant,
        from_s=float(at[found.begin]),
        until_s=float(at[-1]),
        straight=found.straight,
        spread=found.spread * cents,
    )


def _follow(even: Floats, rate: float, hz: float, first: int, last: int) -> tuple[Floats, Floats]:
    """By how many cycles the fundamental runs ahead of a steady ``hz``, and when (s), [k].

    Taken from the strongest of the first three partials. A raised-cosine window two periods long
    is deaf to its neighbours: the window's zeros lie on them.
    """
    width = max(round(2 * rate / hz), 4)
    window = np.hanning(width + 1)[:-1]
    window /= window.sum()
    time = np.arange(last - first) / rate
    best = np.zeros(0, dtype=np.complex128)
    order = 1
    for partial in (1, 2, 3):
        wave = even[first:last] * np.exp(-2j * np.pi * partial * hz * time)
        tone = np.convolve(wave, window, mode="valid") if len(wave) >= width else best
        if partial == 1 or np.abs(tone).sum() > _STRONGER * np.abs(best).sum():
            best, order = tone, partial
    every = max(int(rate * _EVERY_S), 1)
    cycles = np.unwrap(np.angle(best))[::every] / (2 * np.pi * order)
    at = (first + width / 2 + np.arange(len(cycles)) * every) / rate
    return cycles, np.asarray(at, dtype=np.float64)


@record(kw_only=True)
class _Line:
    """A phase curve fitted: ``shift`` Hz of its steady part from row ``begin`` on, ``constant`` s
    and ``slope`` Hz at the start of its fall, which moves the steady part by ``falls`` Hz;
    ``sway``, ``doubt`` and ``spread`` in Hz. ``straight``: the fall goes straight down and ends."""

    shift: float
    begin: int
    constant: float
    slope: float
    falls: float
    sway: float
    doubt: float
    straight: bool
    spread: float


def _fit(time: Floats, cycles: Floats, weight: Floats, hz: float) -> _Line:
    """Fit the phase of what has nearly settled: steady, swaying, falling, or both.

    The plainest that leaves little more than the best does is believed.
    """
    begin = _nearly_settled(time, cycles, hz)
    thin = slice(begin, None, max((len(time) - begin) // _MOST_POINTS, 1))
    x, y, w = time[thin] - time[begin], cycles[thin], np.sqrt(weight[thin])
    steady = np.stack((np.ones_like(x), x), axis=1)
    plain = _Tried(*_least_squares(steady, y, w), steady)
    if plain.error < _STILL_CYCLES**2 * float(np.sum(w**2)):
        return _line(plain, begin, x, y, w, plain, 0.0)
    slowest = max(min(_SLOWEST_S, x[-1] / 2), 0.006)
    falls = [_with_fall(steady, x, y, w, c) for c in np.geomspace(0.005, slowest, 20).tolist()]
    latest = min(_LATEST_END_S - float(time[begin] - time[0]), _ENDS_BY * float(x[-1]))
    at = np.geomspace(_EARLIEST_END_S, latest, 20).tolist() if latest > _EARLIEST_END_S else []
    ends = [_with_end(steady, x, y, w, end) for end in at]
    falling = [min(kind, key=lambda t: t.error) for kind in (falls, ends) if kind]
    kinds = [[plain], falling]
    often = np.arange(_SWAY_HZ[0], _SWAY_HZ[1], 0.25)
    often = often[often * x[-1] > _LEAST_SWAYS]
    if len(often):
        kinds.insert(1, [_best_sway(plain, x, y, w, often)])
        kinds.append([_best_sway(under, x, y, w, often) for under in falling])
    tried = [min(kind, key=lambda t: t.error) for kind in kinds]
    least = min(t.error for t in tried)
    chosen = next(t for t in tried if t.error * _EXPLAINS <= least)
    near = [t.parts[1] for kind in kinds for t in kind if t.error * _NEARLY <= least]
    return _line(chosen, begin, x, y, w, plain, float(np.ptp([chosen.parts[1], *near])))


@record(eq=False)
class _Tried:
    """A fit: its squared ``error``, ``parts`` of its ``columns``, and what they stand for."""

    error: float
    parts: Floats
    columns: Floats
    constant: float = 0.0
    often: float = 0.0
    straight: bool = False


def _with_fall(steady: Floats, x: Floats, y: Floats, w: Floats, constant: float) -> _Tried:
    columns = np.column_stack((steady, np.exp(-x / constant)))
    return _Tried(*_least_squares(columns, y, w), columns, constant)


def _with_end(steady: Floats, x: Floats, y: Floats, w: Floats, end: float) -> _Tried:
    columns = np.column_stack((steady, np.maximum(end - x, 0.0) ** 2))
    return _Tried(*_least_squares(columns, y, w), columns, end, straight=True)


def _best_sway(under: _Tried, x: Floats, y: Floats, w: Floats, often: Floats) -> _Tried:
    best = None
    for hertz in often.tolist():
        turn = 2 * np.pi * hertz * x
        columns = np.column_stack((under.columns, np.sin(turn), np.cos(turn)))
        one = _Tried(*_least_squares(columns, y, w), columns, under.constant, hertz, under.straight)
        if best is None or one.error < best.error:
            best = one
    assert best is not None
    return best


def _line(
    chosen: _Tried, begin: int, x: Floats, y: Floats, w: Floats, plain: _Tried, spread: float
) -> _Line:
    parts, constant = chosen.parts, chosen.constant
    # how fast the phase changes at first by the part that falls
    rate = -2.0 * constant if chosen.straight else -1.0 / constant if constant else 0.0
    slope = -float(parts[2]) * rate if constant else 0.0
    sway = float(np.hypot(*parts[-2:])) * 2 * np.pi * chosen.often if chosen.often else 0.0
    moved = abs(float(parts[1] - plain.parts[1])) if constant else 0.0
    doubt = _halves(x, y - chosen.columns @ parts, w)
    return _Line(
        shift=float(parts[1]),
        begin=begin,
        constant=constant,
        slope=slope,
        falls=moved,
        sway=sway,
        doubt=doubt,
        straight=chosen.straight,
        spread=spread,
    )


def _nearly_settled(time: Floats, cycles: Floats, hz: float) -> int:
    """The first row from which on the pitch stays near that of the second half."""
    lag = max(round(1.0 / hz / _EVERY_S), 1)
    track = hz + (cycles[lag:] - cycles[:-lag]) / (time[lag:] - time[:-lag])
    cents = 1200 * np.log2(np.maximum(track, 1.0) / hz)
    far = np.flatnonzero(np.abs(cents - np.median(cents[len(cents) // 2 :])) > _NEAR_CENTS)
    far = far[far < len(cents) // 2]
    return int(far[-1]) + 1 if len(far) else 0


def _halves(x: Floats, left: Floats, w: Floats) -> float:
    """By how much (Hz) two halves of what a fit leaves differ in slope."""
    slopes = []
    for half in (x <= x[-1] / 2, x > x[-1] / 2):
        if half.sum() < 3:
            return 0.0
        columns = np.stack((np.ones(half.sum()), x[half]), axis=1)
        slopes.append(_least_squares(columns, left[half], w[half])[1][1])
    return float(abs(slopes[1] - slopes[0]))


def _least_squares(columns: Floats, y: Floats, w: Floats) -> tuple[float, Floats]:
    """The weighted squared error that is left, and the parts that leave it."""
    scaled = columns * w[:, None]
    normal = scaled.T @ scaled
    normal[np.diag_indices(len(normal))] *= 1.0 + 1e-12
    parts = np.asarray(np.linalg.solve(normal, scaled.T @ (y * w)), dtype=np.float64)
    return float(np.sum((w * (y - columns @ parts)) ** 2)), parts
