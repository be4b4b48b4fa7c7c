"""How far made tones stand from A = 440 Hz, and when a stroke is heard. Cents: 1,200 an octave.

A click that comes between two windows is heard within one of them (11.6 ms).
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.spectra import RATE_HZ
from basslint.audio.strokes import STROKE_S, band_levels, stroke_strength
from basslint.audio.tuning import Tuning, certainty, hear_tuning, other_reading


def tones(cents: list[float], seconds: float = 3.0) -> np.ndarray:
    """A chord of sines from A3, C#4 and E4, each so many cents off its note."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    pitches = (57, 61, 64)[: len(cents)]
    hertz = [440.0 * 2.0 ** ((p - 69) / 12 + c / 1200) for p, c in zip(pitches, cents, strict=True)]
    return (0.3 * sum(np.sin(2 * np.pi * h * time) for h in hertz)).astype(np.float32)


@pytest.mark.parametrize("cents", [-45.0, -20.0, 0.0, 10.0, 35.0, 48.0])
def test_tones_alike_off_agree(cents: float) -> None:
    heard = hear_tuning(tones([cents] * 3))
    assert heard.cents == pytest.approx(cents, abs=1.5)
    assert heard.agreement > 0.95


@pytest.mark.parametrize(
    ("cents", "mean", "agreement"),
    [
        ([10.0, 30.0], 20.0, 0.81),  # cos(36°): a tenth of a turn to either side
        ([60.0], -40.0, 1.0),  # nearer to the next note
        ([0.0, 50.0], None, 0.0),  # they agree on nothing
    ],
)
def test_tones_that_differ(cents: list[float], mean: float | None, agreement: float) -> None:
    heard = hear_tuning(tones(cents))
    assert mean is None or heard.cents == pytest.approx(mean, abs=2.0)
    assert heard.agreement == pytest.approx(agreement, abs=0.06)


def test_silence_has_no_tuning() -> None:
    assert hear_tuning(np.zeros(RATE_HZ, np.float32)) == Tuning(0.0, 0.0)
    assert hear_tuning(np.zeros(0, np.float32)) == Tuning(0.0, 0.0)


@pytest.mark.parametrize(
    ("tuning", "other", "sure"),
    [
        (Tuning(0.0, 1.0), 0.0, 1.0),
        (Tuning(50.0, 1.0), 0.5, 0.5),  # a quarter tone: as likely the one as the other
        (Tuning(-50.0, 1.0), 0.5, 0.5),
        (Tuning(47.0, 0.2), 1 / (1 + np.e), 1 - 1 / (1 + np.e)),  # a doubt of 3 cents below that
        (Tuning(42.0, 0.0), 1 / (1 + np.e), 0.0),  # of 8 where nothing agrees
        (Tuning(0.0, 0.1), 0.0, 0.5),
    ],
)
def test_near_a_quarter_tone_either_note_may_be_meant(
    tuning: Tuning, other: float, sure: float
) -> None:
    assert other_reading(tuning) == pytest.approx(other, abs=0.001)
    assert certainty(tuning) == pytest.approx(sure, abs=0.001)


@pytest.mark.parametrize("at_s", [0.5, 0.9, 1.3])
def test_a_stroke_is_heard_when_it_comes(at_s: float) -> None:
    sound = tones([0.0], 2.0)
    sound[: round(at_s * RATE_HZ)] = 0.0
    strength = stroke_strength(band_levels(sound))
    assert len(strength) == len(sound) // 128 + 1
    assert strength.argmax() * STROKE_S == pytest.approx(at_s, abs=2 * STROKE_S)
    quiet = np.arange(len(strength)) * STROKE_S
    away = (np.abs(quiet - at_s) > 0.06) & (quiet < 1.9)
    assert strength[away].max() < 0.1 * strength.max()
    assert strength.min() >= 0.0
