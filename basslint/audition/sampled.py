"""What does the one-shot itself sound like on the bass line, as a sampler plays it?

The sound is read faster where the line is higher: its speed is the frequency asked for over its
own, so decay shortens going up, and slides and bends turn the speed. Between samples straight
lines: a bass lies so far below the sample rate that the error is not heard (common practice).
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from basslint.audition.voices import RELEASE_S, Samples, Tone
from basslint.hear.facts import Facts
from basslint.theory.tuning import frequency
from basslint.util.records import record

_START_S = 0.002  # of fade in, where a stretch begins inside a note: no click


@record(eq=False)
class OneShotVoice:
    """A mono sound to play lines with: ``wave`` float64 [n], peak 1, at ``rate`` Hz; ``hz``: its
    own pitch."""

    wave: Samples
    rate: int
    hz: float

    def tone(self, tone: Tone, time: Samples) -> Samples:
        """The samples of a tone at some moments of the song (seconds), release included."""
        since = np.maximum(time - tone.start, 0.0)
        at = tone.cycles(np.maximum(time, tone.start)) / self.hz * self.rate
        wave = np.interp(at, np.arange(len(self.wave)), self.wave, right=0.0)
        left = tone.end + RELEASE_S - time
        edges = np.clip(since / _START_S, 0.0, 1.0) * np.clip(left / RELEASE_S, 0.0, 1.0)
        return np.asarray(tone.level * wave * edges)


def one_shot_voice(facts: Facts) -> OneShotVoice | None:
    """The voice of the stated one-shot; None where none is stated or its pitch is unknown."""
    if facts.sound is None or facts.sound_pitch is None:
        return None
    wave, rate = read_one_shot(facts.sound)
    return OneShotVoice(wave, rate, frequency(facts.sound_pitch))


def read_one_shot(file: str) -> tuple[Samples, int]:
    """The louder channel of a one-shot, its loudest sample at 1, and its rate in Hz."""
    return _wave(file, Path(file).stat().st_mtime_ns)


@lru_cache(4)
def _wave(path: str, _time: int) -> tuple[Samples, int]:
    from basslint.sound.one_shot import read_sound

    samples, rate = read_sound(path)
    loudest = samples[:, int(np.argmax((samples**2).sum(axis=0)))]
    wave = np.asarray(loudest / np.abs(loudest).max(), dtype=np.float64)
    wave.setflags(write=False)
    return wave, rate
