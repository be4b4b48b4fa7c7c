"""Where do the bars of a loop lie: its tempo, how many there are, where the first begins?

What the user states is taken; the rest follows from the length of the sound, from where it sets in,
and from its strokes. Loops are cut to whole bars, mostly 4, 8 or 16 (common practice, no source).
Where strokes keep none of the tempi that follow from that as well as another one, the sound was not
cut: silence lies before it, or a tail after.
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
# A length this near to whole bars was cut to them.
_CUT_S, _CUT_SHARE = 0.03, 0.004
_ENDS_EARLY = 0.04  # of a bar that the last one may lack
# Against the loud moments: what is softer before is silence or noise of the room.
_STARTS_DB = -46.0
_LOUD = 0.9  # quantile of the level that counts as loud
_STILL_S = 0.03  # of silence at the beginning: less is the slope of the first stroke
_LEVEL_SAMPLES = 64  # 6 ms, the fineness with which the beginning is found
_SLOWEST_BPM, _FASTEST_BPM = 60.0, 190.0
LEAST_BPM, MOST_BPM = 20.0, 400.0  # outside, a figure is a slip of the hand
# The tempo that is tapped most readily, and how fast others fall behind in octaves: Parncutt, Music
# Perception 1994 (there 100 per minute); beats lie a bit higher.
_TAPPED_BPM, _TAPPED_OCTAVES = 115.0, 0.7
_TEMPI = 1200  # from the slowest to the fastest: a thousandth apart
_PLAUSIBLE = 0.25  # weight of how readily a tempo is tapped, beside the mean correlation
# By how much strokes must keep another tempo better than one that makes whole bars of the whole
# length. On 138 renders with silence before and a tail after, bars are then found in .97 and tempi
# in .87 (by the length alone in .72 and none), on 198 that are cut to whole bars in all, as before.
_LEAVE, _LEAVE_AFTER_SILENCE = 0.1, 0.0  # what sets in late was hardly cut to bars
_MOST_AROUND = 1.5  # times the music, the sound with what lies before and after
_OVERLAP = 0.8  # of the sound, after which too little of it is left to be compared
_FINER, _FAR_BEATS = 0.012, 64  # share by which a tempo is looked at anew, by so many beats


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
    """What the user says about a loop, None where nothing.

    ``begins_s`` may lie before 0. ``begins_beats`` is below it: −1 for a pickup of a beat that the
    bar line follows.
    """

    bpm: float | None = None
    bars: int | None = None
    begins_s: float | None = None
    begins_beats: float | None = None
    meter: tuple[int, int] = (4, 4)


def find_bars(samples: Singles, strength: Singles, stated: Stated, path: str = "") -> Bars:
    """The bars of a loop, float32 samples at `RATE_HZ`; ``strength`` as from `stroke_strength`.

    Raises `SoundError` where not a single bar fits into the sound.
    """
    duration = len(samples) / RATE_HZ
    sets_in = sound_begin(samples)
    bpm, may_be_cut = stated.bpm, True
    if bpm is None:
        bpm, may_be_cut = _tempo(strength, duration, sets_in, stated)
    if stated.bars and not LEAST_BPM <= bpm <= MOST_BPM:
        raise SoundError(
            f"The loop {path} lasts {duration:.2f} s: {_counted(stated.bars)} of it would run at "
            f"{bpm:,.0f} bpm.",
            "State another length in bars.",
        )
    beat_s = 240.0 / bpm / stated.meter[1]
    bar_s = beat_s * stated.meter[0]
    whole = duration / bar_s
    cut = may_be_cut and _is_cut(duration, bar_s, sets_in)
    begins = stated.begins_s
    if begins is None and stated.begins_beats is not None:
        begins = -stated.begins_beats * beat_s
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
        after = f" after {begins:.2f} s" if begins > 0.0 else ""
        needed = max(bars, 1)
        fail = "does not fit" if needed == 1 else "do not fit"
        raise SoundError(
            f"The loop {path} is {length}; {_counted(needed)}{after} {fail}.",
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


def _counted(bars: int) -> str:
    return f"{bars} bar{'s' if bars != 1 else ''}"


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
    return near and (sets_in == 0.0 or bars in _USUAL or bars in _SELDOM)


def _most_bars(whole: float) -> int:
    """Whole bars of a sound that has room for ``whole``: the most of a usual number; all of those
    of a whole song.
    """
    if whole > max(_USUAL) + 1:
        return int(whole + _ENDS_EARLY)
    fits = [n for n in (*_USUAL, *_SELDOM) if n <= whole + _ENDS_EARLY]
    return max(fits, default=0)


def _tempo(
    strength: Singles, duration: float, sets_in: float, stated: Stated
) -> tuple[float, bool]:
    """Quarter notes per minute, and whether they make whole bars of the sound's whole length.

    Of the tempi that do, the one that strokes keep best, unless they keep another one plainly
    better.
    """
    quarters = stated.meter[0] * 4.0 / stated.meter[1]
    again = _repeats(strength)
    slowest, fastest = _SLOWEST_BPM, _FASTEST_BPM
    if stated.bars:  # their music fills the sound, or most of it
        slowest = 60.0 * stated.bars * quarters / duration
        fastest = slowest * _MOST_AROUND
    tempi = np.geomspace(slowest, fastest, _TEMPI)
    speaks = _kept(again, tempi) + _PLAUSIBLE * _readiness(tempi)
    free = float(tempi[speaks.argmax()])
    counts = np.array((stated.bars,) if stated.bars else (*_USUAL, *_SELDOM))
    whole = 60.0 * counts * quarters / duration
    if not stated.bars:
        whole = whole[(whole >= slowest) & (whole <= fastest)]
    if len(whole):
        near = whole[:, None] * np.linspace(1.0 - _CUT_SHARE, 1.0 + _CUT_SHARE, 7)
        kept = _kept(again, near.ravel()).reshape(near.shape).max(axis=1)
        for_whole = kept + _PLAUSIBLE * _readiness(whole)
        leave = _LEAVE if sets_in == 0.0 else _LEAVE_AFTER_SILENCE
        if for_whole.max() + leave >= speaks.max():
            return float(whole[for_whole.argmax()]), True
    return _finer(again, free), False


def _readiness(bpm: Floats) -> Floats:
    """How readily tempi are tapped, 0 at best."""
    return np.asarray(-0.5 * (np.log2(bpm / _TAPPED_BPM) / _TAPPED_OCTAVES) ** 2)


def _repeats(strength: Singles) -> Floats:
    """How well strokes repeat after so many frames, correlation −1..1, float64 [frames]."""
    centred = strength - strength.mean()
    size = 1 << (2 * len(centred)).bit_length()
    spectrum = np.fft.rfft(centred, size)
    again = np.fft.irfft(spectrum * np.conj(spectrum), size)[: len(centred)]
    return np.asarray(again / (again[0] + 1e-9), dtype=np.float64)


def _kept(again: Floats, bpm: Floats, beats: tuple[int, ...] = (1, 2, 4, 8)) -> Floats:
    """How well strokes repeat after so many beats of each tempo, mean correlation −1..1."""
    total = np.zeros(len(bpm))
    for count in beats:
        lag = count * 60.0 / bpm / STROKE_S
        at_beats = np.interp(lag, np.arange(len(again)), again)
        total += np.where(lag < _OVERLAP * len(again), at_beats, 0.0)
    return total / len(beats)


def _finer(again: Floats, bpm: float) -> float:
    """A tempo found better by all beats that the sound holds: the far ones part near tempi."""
    near = bpm * np.linspace(1.0 - _FINER, 1.0 + _FINER, 81)
    return float(near[_kept(again, near, tuple(range(1, _FAR_BEATS + 1))).argmax()])
