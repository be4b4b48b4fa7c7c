"""Where do the bars of a loop lie: its tempo, how many there are, where the first begins?

What the user states is taken; the rest follows from the length of the sound, from where it sets in,
and from its strokes. Loops are cut to whole bars, mostly 4, 8 or 16 (common practice, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.spectra import RATE_HZ
from basslint.audio.strokes import STROKE_S
from basslint.errors import SoundError
from basslint.util.records import record

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

# Bars that loops have, the usual ones first: fours doubled, then what is left (common practice).
_USUAL = (4, 8, 16, 2, 1, 32, 64)
_SELDOM = (12, 6, 3, 24, 48)
_CUT_S, _CUT_SHARE = (
    0.03,
    0.004,
)  # a length this near to whole bars was cut to them: 30 ms, or 0.4 %
_ENDS_EARLY = 0.04  # of a bar that the last one may lack
_STARTS_DB = (
    -46.0
)  # against the loud moments: what is softer before is silence or noise of the room
_LOUD = 0.9  # quantile of the level that counts as loud
_STILL_S = 0.03  # of silence at the beginning: less is the slope of the first stroke
_LEVEL_SAMPLES = 64  # 6 ms, the fineness with which the beginning is found
_SLOWEST_BPM, _FASTEST_BPM = 60.0, 190.0
_TAPPED_BPM = (
    115.0  # tempo that is tapped most readily, and how fast others fall behind in octaves:
)
_TAPPED_OCTAVES = (
    0.7  # Parncutt, Music Perception 1994 (there 100 per minute); beats lie a bit higher
)


@record(kw_only=True)
class Bars:
    """The bar lines of one loop.

    ``bpm`` quarter notes per minute. ``bars`` whole bars. ``meter`` (numerator, denominator).
    ``begins_s`` seconds of the first bar line in the file. ``cut``: the file is exactly those bars
    long. ``tempo_heard``, ``bars_heard``, ``begins_heard``: heard here, not stated.
    """

    bpm: float
    bars: int
    meter: tuple[int, int]
    begins_s: float
    cut: bool
    tempo_heard: bool
    bars_heard: bool
    begins_heard: bool

    @property
    def beat_s(self) -> float:
        """Seconds of a beat, one unit of the meter's denominator."""
        return 240.0 / self.bpm / self.meter[1]

    @property
    def bar_s(self) -> float:
        """Seconds of a bar."""
        return self.beat_s * self.meter[0]

    @property
    def end_s(self) -> float:
        """Second at which the last bar ends."""
        return self.begins_s + self.bars * self.bar_s

    def eighths_s(self) -> Floats:
        """Second of each eighth (of each beat where the meter counts in eighths or less)."""
        parts = max(8 // self.meter[1], 1)
        count = self.bars * self.meter[0] * parts
        return np.asarray(self.begins_s + np.arange(count + 1) * (self.beat_s / parts))


@record(kw_only=True)
class Stated:
    """What the user says about a loop, None where nothing: ``begins_s`` may lie before 0."""

    bpm: float | None = None
    bars: int | None = None
    begins_s: float | None = None
    begins_beats: float | None = (
        None  # in beats: -1 for a pickup of a beat that the bar line follows
    )
    meter: tuple[int, int] = (4, 4)


def find_bars(samples: Singles, strength: Singles, stated: Stated, path: str = "") -> Bars:
    """The bars of a loop, float32 samples at `RATE_HZ`; ``strength`` as from `stroke_strength`.

    Raises `SoundError` where not a single bar fits into the sound.
    """
    duration = len(samples) / RATE_HZ
    sets_in = sound_begin(samples)
    bpm = stated.bpm
    if bpm is None:
        bpm = _tempo(strength, duration, sets_in, stated)
    beat_s = 240.0 / bpm / stated.meter[1]
    bar_s = beat_s * stated.meter[0]
    whole = duration / bar_s
    cut = _is_cut(duration, bar_s, sets_in)
    begins = stated.begins_s
    if begins is None and stated.begins_beats is not None:
        begins = -stated.begins_beats * beat_s if stated.begins_beats < 0 else 0.0
    if begins is None:
        begins = 0.0 if cut else sets_in
    bars = stated.bars
    if bars is None and cut and (begins < bar_s / 2 or stated.begins_beats is not None):
        bars = round(whole)
    elif bars is None:
        room = min(duration, sound_end(samples) + bar_s / 2)
        bars = _most_bars((room - begins) / bar_s)
    if bars < 1 or begins + bars * bar_s > duration + max(bar_s, 1.0):
        length = f"{duration:.2f} s long, {whole:.2f} bars at {bpm:.1f} bpm"
        raise SoundError(
            f"The loop {path} is {length}; {max(bars, 1)} whole bars do not fit.",
            "State its tempo, its length in bars or where it begins.",
        )
    return Bars(
        bpm=bpm,
        bars=bars,
        meter=stated.meter,
        begins_s=begins,
        cut=cut,
        tempo_heard=stated.bpm is None,
        bars_heard=stated.bars is None,
        begins_heard=stated.begins_s is None and stated.begins_beats is None,
    )


def sound_begin(samples: Singles) -> float:
    """Second at which the sound sets in, 0 where it sounds from the start."""
    usable = len(samples) // _LEVEL_SAMPLES * _LEVEL_SAMPLES
    # the spread in each block: a constant offset is no sound
    power = samples[:usable].reshape(-1, _LEVEL_SAMPLES).var(axis=1)
    loud = float(np.quantile(power, _LOUD))
    begins = int(np.argmax(power > loud * 10 ** (_STARTS_DB / 10))) * _LEVEL_SAMPLES / RATE_HZ
    return begins if begins > _STILL_S else 0.0


def sound_end(samples: Singles) -> float:
    """Second after which nothing is heard any more."""
    return len(samples) / RATE_HZ - sound_begin(samples[::-1])


def _is_cut(duration: float, bar_s: float, sets_in: float) -> bool:
    """Whether a sound was cut to whole bars: its length is, and no odd number after a silence."""
    bars = round(duration / bar_s)
    near = abs(duration - bars * bar_s) <= max(_CUT_S, _CUT_SHARE * duration)
    return bars >= 1 and near and (sets_in == 0.0 or bars in _USUAL or bars in _SELDOM)


def _most_bars(whole: float) -> int:
    """Whole bars of a sound that has room for ``whole``: the most of a usual number."""
    fits = [n for n in (*_USUAL, *_SELDOM) if n <= whole + _ENDS_EARLY]
    return max(fits, default=0)


def _tempo(strength: Singles, duration: float, sets_in: float, stated: Stated) -> float:
    """Quarter notes per minute: of the lengths that make whole bars, the one that strokes keep."""
    beats = stated.meter[0] * 4.0 / stated.meter[1]  # quarters in a bar
    length = duration - sets_in
    counts = (stated.bars,) if stated.bars else (*_USUAL, *_SELDOM)
    tempi = [60.0 * n * beats / d for n in counts for d in {duration, length}]
    tempi = [t for t in tempi if _SLOWEST_BPM <= t <= _FASTEST_BPM]
    if stated.bars and not tempi:
        return 60.0 * stated.bars * beats / duration
    if not tempi:
        tempi = list(np.geomspace(_SLOWEST_BPM, _FASTEST_BPM, 120))
    return max(tempi, key=lambda bpm: _kept(strength, bpm) + _readiness(bpm))


def _readiness(bpm: float) -> float:
    """How readily a tempo is tapped, 0 at best."""
    return float(-0.5 * (np.log2(bpm / _TAPPED_BPM) / _TAPPED_OCTAVES) ** 2)


def _kept(strength: Singles, bpm: float) -> float:
    """How well strokes repeat after a beat, two and four, mean correlation −1..1."""
    centred = strength - strength.mean()
    power = float(centred @ centred) + 1e-9
    total = 0.0
    for beats in (1, 2, 4):
        lag = round(beats * 60.0 / bpm / STROKE_S)
        if lag < len(centred):
            total += float(centred[lag:] @ centred[:-lag]) / power
    return total / 3.0
