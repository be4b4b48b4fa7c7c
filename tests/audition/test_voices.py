"""The bass voice: in tune, decaying as stated, unbroken through slides, without clicks."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audition.voices import Samples, Tone, bass_tone, chord_tone

RATE = 44_100


def hertz_of(samples: Samples) -> float:
    """Frequency by the phase of the strongest partial between two windows (quadratic FFT peak)."""
    window = np.hanning(len(samples))
    power = np.log(np.abs(np.fft.rfft(samples * window, 8 * len(samples))) + 1e-12)
    k = int(power.argmax())
    a, b, c = power[k - 1 : k + 2]
    return float((k + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / (8 * len(samples)))


def still(pitch: float) -> Tone:
    return line(2.0, [0.0], [pitch])


def line(end: float, times: list[float], pitches: list[float]) -> Tone:
    return Tone(0.0, end, 1.0, np.array(times), np.array(pitches))


# ISO 16 (A4 = 440 Hz), twelve-tone equal temperament.
@pytest.mark.parametrize(
    ("pitch", "hertz"),
    [(24, 32.703), (28, 41.203), (29, 43.654), (31, 48.999), (33, 55.000), (40, 82.407)],
)
def test_pitch_is_within_two_cents(pitch: int, hertz: float) -> None:
    heard = hertz_of(bass_tone(still(pitch), RATE, 20.0))
    assert abs(1200 * np.log2(heard / hertz)) < 2.0


@pytest.mark.parametrize("t60", [0.4, 1.0, 3.0])
def test_level_falls_by_60_db_in_t60(t60: float) -> None:
    """ISO 3382: the decay time is the time to fall by 60 dB; so half of it is 30 dB."""
    tone = line(max(t60, 1.0), [0.0], [45.0])
    samples = bass_tone(tone, RATE, t60)
    period = round(RATE / 110.0) * 4

    def level(at: float) -> float:
        begin = round(at * RATE)
        return float(np.sqrt(np.mean(samples[begin : begin + period] ** 2)))

    fall = 20 * np.log10(level(0.05 + t60 / 2) / level(0.05))
    assert fall == pytest.approx(-30.0, abs=0.5)


def test_a_slide_is_phase_continuous_and_nothing_clicks() -> None:
    samples = bass_tone(line(1.0, [0.5, 0.6], [33.0, 45.0]), RATE, 5.0)
    highest = 2 * np.pi * 110.0 * (1 + 2 * 0.25) / 1.25 / RATE  # steepest slope of the top note
    assert np.abs(np.diff(samples)).max() < 1.2 * highest
    assert abs(samples[0]) < 1e-6 and abs(samples[-1]) < 1e-3
    before, after = samples[: RATE // 2], samples[round(0.62 * RATE) : RATE]
    assert hertz_of(before) == pytest.approx(55.0, rel=0.002)
    assert hertz_of(after) == pytest.approx(110.0, rel=0.002)


def test_no_voice_passes_full_scale() -> None:
    for samples in (bass_tone(still(30), RATE, 9.0), chord_tone(still(60), RATE)):
        assert np.abs(samples).max() <= 1.0
