"""Tones of one pitch are made once, and each sounds as if it had been made alone."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.audition import sounds, voices
from basslint.audition.mix import render
from basslint.audition.repeated import Struck, Voice, repeated
from basslint.audition.sounds import RATE, Wish

CHORD = Voice(
    sound=lambda tone, time: voices.chord_tone(tone, time, RATE),
    release_s=voices.CHORD_RELEASE_S,
    curve=voices.straight,
    gone_s=9.0,
)
BASS = Voice(
    sound=lambda tone, time: voices.bass_tone(tone, time, 2.0),
    release_s=voices.RELEASE_S,
    curve=voices.raised_cosine,
    gone_s=9.0,
)


def alone(voice: Voice, start: float, end: float, level: float, pitch: float) -> np.ndarray:
    """The samples of one tone, made by its voice at all moments of ten seconds from 2 s on."""
    tone = voices.Tone(
        start=start, end=end, level=level, times=np.array([start]), pitches=np.array([pitch])
    )
    time = 2.0 + np.arange(10 * RATE) / RATE
    sounds = time >= start
    samples = np.zeros(len(time))
    samples[sounds] = voice.sound(tone, time[sounds])
    return samples


@pytest.mark.parametrize("voice", [CHORD, BASS], ids=["chord", "bass"])
def test_a_copy_sounds_like_a_tone_of_its_own(voice: Voice) -> None:
    """Long, short, shorter than it takes to fade in, held from before, over before."""
    rows = np.array(
        [
            (2.0, 5.0, 0.5, 60.0),
            (4.0, 4.25, 0.3, 60.0),
            (6.0, 6.001, 0.3, 60.0),
            (0.5, 3.0, 0.4, 60.0),
            (0.5, 1.0, 0.4, 60.0),
            (3.0, 3.5, 0.4, 33.5),
        ]
    )
    start, end, level, pitch = rows.T
    made = np.zeros(10 * RATE)
    tones = Struck(start=start, end=end, level=level, pitch=pitch)
    for at, samples in repeated(voice, tones, 2.0, RATE):
        assert at >= 0
        made[at : at + len(samples)] += samples
    expected = sum(alone(voice, *row) for row in rows.tolist())
    assert np.abs(made).max() > 0.2
    assert np.abs(made - expected).max() < 1e-9


def test_a_tone_begins_on_the_sample_nearest_to_its_start() -> None:
    columns = (np.array([x]) for x in (1.0 + 0.6 / RATE, 2.0, 0.5, 60.0))
    start, end, level, pitch = columns
    ((at, _),) = repeated(CHORD, Struck(start=start, end=end, level=level, pitch=pitch), 1.0, RATE)
    assert at == 1


def test_a_longer_song_of_the_same_notes_makes_no_more_sound(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is made are samples of a few pitches, not of every note."""

    def made(bars: int) -> int:
        count = 0

        def counting(voice: object) -> object:
            def sound(tone: voices.Tone, time: np.ndarray, *rest: object) -> np.ndarray:
                nonlocal count
                count += len(time)
                return voice(tone, time, *rest)  # type: ignore[operator]

            return sound

        with monkeypatch.context() as patched:
            for name in ("bass_tone", "chord_tone"):
                patched.setattr(sounds, name, counting(getattr(voices, name)))
            render(
                heard(
                    f"tempo 120\nkeys | A3+C4+E4:2 A3+C4+E4:2 |*{bars}\nsub | A1:2 E1:2 |*{bars}"
                ),
                Wish(),
            )
        return count

    assert 5 * RATE <= made(4) == made(16) < 7 * RATE  # five pitches of a second each
