"""What does one part sound like? Plain voices in numpy, made to be judged by, not admired.

The bass voice is a sine with a little of its octave, phase-continuous through every slide and bend;
its level falls by 60 dB in the stated T60 from the first onset of a legato chain, as `hear.slides`
reckons it. For small speakers, which do not carry the fundamental, harmonics 3 to 8 are added: the
ear hears the pitch that they are multiples of. Every voice is a function of the moment, so that a
stretch may begin in the middle of a note; the page's script (report/page/voices.js) holds the same
functions, and a test compares the two.

Source: exponential decay by T60 (ISO 3382). The voices' timbres are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from basslint.theory.acoustics import T60_FALL_DB
from basslint.theory.general_midi import CLAP, KICKS, SNARES, TOMS
from basslint.theory.tuning import frequency
from basslint.util.records import record

Samples = NDArray[np.float64]
Stroke = tuple[object, ...]  # all that a tone sounds of, to compare with another's
Curve = Callable[[Samples], Samples]  # of a fade: 0..1 to 0..1

ATTACK_S = 0.004  # long enough to click on no speaker, short enough to leave the onset in place
RELEASE_S = 0.012
CHORD_ATTACK_S, CHORD_RELEASE_S, CHORD_FALL_S = 0.010, 0.060, 2.5
BASS_SHARES = ((1, 1.0), (2, 0.25))  # harmonic, share of the level
SMALL_SPEAKER_SHARES = tuple((k, 0.75 / k) for k in range(3, 9))
CHORD_SHARES = ((1, 1.0), (2, 0.3), (3, 0.12))
HIT_S = 0.30  # by then every hit has died away
_FALL = np.log(10.0 ** (T60_FALL_DB / 20.0))  # of T60, as a natural logarithm
CHORD_T60_S = CHORD_FALL_S * float(_FALL)
_OCTAVE = np.log(2.0) / 12.0  # a semitone as a natural logarithm
_ROW = 512  # samples that are made from one row
_SEED, _FACTOR, _STEP, _WORD = 7, 1_664_525, 1_013_904_223, 1 << 32  # a usual congruential noise

_RIM = 37  # side stick, General MIDI 1
_SNARE_LIKE = (_RIM, *SNARES, CLAP)
# Cymbals and the open hat ring on; all keys that are not named here are hats and the like.
_CYMBALS = (46, 49, 51, 52, 53, 55, 57, 59)


@record(eq=False, kw_only=True)
class Tone:
    """One unbroken sound from ``start`` to ``end`` in seconds at ``level`` 0..1.

    Its pitch is a line through knots: ``pitches`` (fractional MIDI numbers) at ``times`` (seconds
    of the song, rising), both of shape [k], k ≥ 1; level before the first and after the last.
    ``part``: index into song.parts; ``stroke``: what equal tones have in common.
    """

    start: float
    end: float
    level: float
    times: Samples
    pitches: Samples
    part: int = 0
    stroke: Stroke = ()

    @property
    def sound(self) -> tuple[object, ...]:
        """What the samples of a tone hang on: those of equal ones are equal."""
        line = self.times.tobytes(), self.pitches.tobytes()
        return self.start, self.end, self.level, *line

    def pitch(self, time: Samples) -> Samples:
        """Fractional MIDI pitch at some moments of the song."""
        pitch: Samples = np.interp(time, self.times, self.pitches)
        return pitch

    def cycles(self, time: Samples) -> Samples:
        """How many periods the fundamental has run through since ``start``, in closed form.

        Between two knots the pitch is straight, so the frequency grows by a power of e, and its
        integral is the difference of two frequencies over the exponent's slope.
        """
        later = self.times > self.start
        at = np.concatenate(([self.start], self.times[later]))
        pitch = np.concatenate((self.pitch(at[:1]), self.pitches[later]))
        hertz = frequency(pitch)
        slope = np.zeros(len(at))
        slope[:-1] = _OCTAVE * np.diff(pitch) / np.maximum(np.diff(at), 1e-9)
        whole = np.zeros(len(at))
        whole[1:] = np.cumsum(_run(hertz[:-1], slope[:-1], np.diff(at)))
        row = np.maximum(np.searchsorted(at, time, side="right") - 1, 0)
        run: Samples = whole[row] + _run(hertz[row], slope[row], time - at[row])
        return run


def _run(hertz: Samples, slope: Samples, time: Samples) -> Samples:
    """Periods in ``time`` seconds from a frequency that grows by e**(slope * time)."""
    still = np.abs(slope) < 1e-9
    safe = np.where(still, 1.0, slope)
    run: Samples = np.where(still, hertz * time, hertz * np.expm1(slope * time) / safe)
    return run


def bass_tone(tone: Tone, time: Samples, t60_s: float, small_speakers: bool = False) -> Samples:
    """The samples of a bass tone at some moments of the song (evenly spaced seconds), release
    included."""
    since = time - tone.start
    shares = BASS_SHARES + (SMALL_SPEAKER_SHARES if small_speakers else ())
    full = tone.level / sum(share for _, share in BASS_SHARES)
    hertz = _stays_at(tone, time)
    if hertz is not None:
        begun = float(tone.cycles(time[:1])[0])
        fade = float(_FALL) / t60_s
        level = full * float(np.exp(-fade * since[0]))
        wave = _partials(shares, level, begun, hertz, fade, time)
    else:
        phase = 2.0 * np.pi * tone.cycles(time)
        wave = np.zeros(len(time))
        for harmonic, share in shares:
            wave += share * np.sin(harmonic * phase)
        wave *= full * np.exp(-_FALL * np.maximum(since, 0.0) / t60_s)
    _shape(wave, since, ATTACK_S, tone.end - tone.start + RELEASE_S, RELEASE_S, raised_cosine)
    return np.asarray(wave)


def chord_tone(tone: Tone, time: Samples, rate: int) -> Samples:
    """A soft, slowly fading tone for harmony and melody at some moments of the song (seconds,
    1 / ``rate`` apart)."""
    since = time - tone.start
    hertz = frequency(float(tone.pitches[0]))
    shares = tuple((k, share) for k, share in CHORD_SHARES if k * hertz < rate / 2)
    if not len(time) or not shares:
        return np.zeros(len(time))
    begun = float(since[0])
    level = tone.level / sum(share for _, share in CHORD_SHARES)
    level *= float(np.exp(-begun / CHORD_FALL_S))
    wave = _partials(shares, level, begun * hertz, hertz, 1.0 / CHORD_FALL_S, time)
    end = tone.end - tone.start + CHORD_RELEASE_S
    _shape(wave, since, CHORD_ATTACK_S, end, CHORD_RELEASE_S, straight)
    return wave


def _stays_at(tone: Tone, time: Samples) -> float | None:
    """The frequency of a tone, where it is one at all of some moments; None where it moves."""
    if not len(time) or time[0] < tone.start:
        return None
    first, last = np.searchsorted(tone.times, (time[0], time[-1]), side="right")
    pitches = tone.pitches[max(first - 1, 0) : last + 1]
    return frequency(float(pitches[0])) if bool((pitches == pitches[0]).all()) else None


def _partials(
    shares: tuple[tuple[int, float], ...],
    level: float,
    begun: float,
    hertz: float,
    fade: float,
    time: Samples,
) -> Samples:
    """Partials (harmonic, share of ``level``) of a steady tone at evenly spaced moments: its
    fundamental has run through ``begun`` periods at the first one, and all fade from there by
    e**(-fade * seconds).

    sin(a + b) is made of the sines and cosines of a and b: so a few of both, in rows and columns,
    make all samples, where a sine for each took most of an audition's time.
    """
    step = float(time[-1] - time[0]) / max(len(time) - 1, 1)
    row = step * _ROW * np.arange(-(-len(time) // _ROW))[:, None]
    column = step * np.arange(_ROW)
    turn = 2.0 * np.pi * np.array([harmonic for harmonic, _ in shares])
    share = level * np.array([share for _, share in shares])
    at, on = turn * (begun + hertz * row), (turn * hertz)[:, None] * column
    rows = np.concatenate((share * np.sin(at), share * np.cos(at)), axis=1) * np.exp(-fade * row)
    columns = np.concatenate((np.cos(on), np.sin(on))) * np.exp(-fade * column)
    wave: Samples = (rows @ columns).ravel()[: len(time)]
    return wave


@cache
def drum_hit(key: int, rate: int) -> Samples:
    """A percussion key of General MIDI 1 as a plain hit of `HIT_S` at full level."""
    time = np.arange(round(HIT_S * rate)) / rate
    if key in KICKS or key in TOMS:
        rest, fall = (50.0, 0.07) if key in KICKS else (60.0 + 6.0 * (key - 40), 0.09)
        # from 90 Hz above down to its rest: the integral of rest + 90·e^(−t/12 ms)
        phase = 2.0 * np.pi * (rest * time + 90.0 * 0.012 * -np.expm1(-time / 0.012))
        return np.sin(phase) * np.exp(-time / fall) * _edges(time, HIT_S)
    noise = _noise(len(time))
    if key in _SNARE_LIKE:
        body = np.sin(2.0 * np.pi * 185.0 * time) * np.exp(-time / 0.03)
        return (0.5 * noise * np.exp(-time / 0.05) + 0.5 * body) * _edges(time, HIT_S)
    bright = np.diff(noise, prepend=0.0) / 2.0
    fall = 0.09 if key in _CYMBALS else 0.018
    return 0.6 * bright * np.exp(-time / fall) * _edges(time, HIT_S)


@cache
def _noise(count: int) -> Samples:
    """The same noise each time, −1..1: a comparison must not differ by chance."""
    state, values = _SEED, np.empty(count)
    for i in range(count):
        state = (_FACTOR * state + _STEP) % _WORD
        values[i] = state / (_WORD / 2) - 1.0
    return values


def _edges(time: Samples, seconds: float) -> Samples:
    """Raised-cosine fade in and out, so that nothing clicks; silence outside."""
    shaped = np.ones(len(time))
    _shape(shaped, time, ATTACK_S, seconds, RELEASE_S, raised_cosine)
    return shaped


def raised_cosine(share: Samples) -> Samples:
    """The fades of bass and drums."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * share))


def straight(share: Samples) -> Samples:
    """The fades of chords."""
    return share


def _shape(
    wave: Samples,
    since: Samples,
    rise_s: float,
    end: float,
    fall_s: float,
    curve: Curve,
) -> None:
    """Fade a wave in from 0 and out before ``end``, silence outside, in place; ``since``: rising
    seconds of its samples. What lies between the two is not touched, which is most of a tone."""
    risen, falls = np.searchsorted(since, (rise_s, end - fall_s))
    wave[:risen] *= curve(np.clip(since[:risen] / rise_s, 0.0, 1.0))
    wave[falls:] *= curve(np.clip((end - since[falls:]) / fall_s, 0.0, 1.0))
