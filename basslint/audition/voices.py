"""What does one part sound like? Three plain voices in numpy, made to be judged by, not admired.

The bass voice is a sine with a little of its octave (a bare sub is inaudible on small speakers),
phase-continuous through every slide and bend; its level falls by 60 dB in the stated T60 from the
first onset of a legato chain, as `hear.slides` reckons it.

Source: exponential decay by T60 (ISO 3382). The voices'
timbres are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.theory.acoustics import T60_FALL_DB
from basslint.theory.tuning import frequency

Samples = NDArray[np.float64]

ATTACK_S = 0.004  # long enough to click on no speaker, short enough to leave the onset in place
RELEASE_S = 0.012
OCTAVE_SHARE = 0.25
_FALL = np.log(10.0 ** (T60_FALL_DB / 20.0))  # of T60, as a natural logarithm


@dataclass(frozen=True, slots=True, eq=False)
class Tone:
    """One unbroken sound from ``start`` to ``end`` in seconds at ``level`` 0..1.

    Its pitch is a line through knots: ``pitches`` (fractional MIDI numbers) at ``times`` (seconds
    of the song, rising), both of shape [k], k ≥ 1; level before the first and after the last.
    """

    start: float
    end: float
    level: float
    times: Samples
    pitches: Samples

    def pitch(self, time: Samples) -> Samples:
        """Fractional MIDI pitch at some moments of the song."""
        pitch: Samples = np.interp(time, self.times, self.pitches)
        return pitch


def bass_tone(tone: Tone, rate: int, t60_s: float) -> Samples:
    """The samples of a bass tone from its start on, release included."""
    seconds = tone.end - tone.start + RELEASE_S
    time = np.arange(max(1, round(seconds * rate))) / rate
    hertz = frequency(tone.pitch(tone.start + time))
    phase = 2.0 * np.pi * (np.cumsum(hertz) - hertz[0]) / rate
    wave = (np.sin(phase) + OCTAVE_SHARE * np.sin(2.0 * phase)) / (1.0 + OCTAVE_SHARE)
    sounding: Samples = tone.level * wave * np.exp(-_FALL * time / t60_s)
    return sounding * _edges(time, seconds)


def chord_tone(tone: Tone, rate: int) -> Samples:
    """A soft, slowly fading tone for harmony and melody."""
    seconds = tone.end - tone.start + 5 * RELEASE_S
    time = np.arange(max(1, round(seconds * rate))) / rate
    hertz = frequency(float(tone.pitch(np.array([tone.start]))[0]))
    wave = np.zeros(len(time))
    for harmonic, share in ((1, 1.0), (2, 0.3), (3, 0.12)):
        if harmonic * hertz < rate / 2:
            wave += share * np.sin(2.0 * np.pi * harmonic * hertz * time)
    release = np.clip((seconds - time) / (5 * RELEASE_S), 0.0, 1.0)
    return tone.level * wave / 1.42 * np.exp(-time / 2.5) * np.minimum(time / 0.01, 1.0) * release


def drum_hit(level: float, low: bool, rate: int) -> Samples:
    """A dull thump for low drums, a tick of noise for the others; the same noise each time."""
    time = np.arange(round(0.09 * rate)) / rate
    if low:
        phase = 2.0 * np.pi * np.cumsum(55.0 + 90.0 * np.exp(-time / 0.012)) / rate
        return level * np.sin(phase) * np.exp(-time / 0.03) * _edges(time, float(time[-1]))
    noise = np.random.default_rng(7).standard_normal(len(time))
    return 0.25 * level * noise * np.exp(-time / 0.015)


def _edges(time: Samples, seconds: float) -> Samples:
    """Raised-cosine fade in and out, so that nothing clicks."""
    rise = np.clip(time / ATTACK_S, 0.0, 1.0)
    fall = np.clip((seconds - time) / RELEASE_S, 0.0, 1.0)
    shaped: Samples = (0.5 - 0.5 * np.cos(np.pi * rise)) * (0.5 - 0.5 * np.cos(np.pi * fall))
    return shaped
