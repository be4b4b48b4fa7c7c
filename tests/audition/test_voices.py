"""The bass voice: in tune, decaying as stated, unbroken through slides, without clicks."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audition import voices
from basslint.audition.voices import RELEASE_S, Samples, Tone, chord_tone, drum_hit

RATE = 44_100


def hertz_of(samples: Samples) -> float:
    """Frequency by the phase of the strongest partial between two windows (quadratic FFT peak)."""
    window = np.hanning(len(samples))
    power = np.log(np.abs(np.fft.rfft(samples * window, 8 * len(samples))) + 1e-12)
    k = int(power.argmax())
    a, b, c = power[k - 1 : k + 2]
    return float((k + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / (8 * len(samples)))


def bass_tone(tone: Tone, rate: int, t60: float) -> Samples:
    seconds = tone.end - tone.start + RELEASE_S
    return voices.bass_tone(tone, np.arange(round(seconds * rate)) / rate, t60)


def still(pitch: float) -> Tone:
    return line(2.0, [0.0], [pitch])


def line(end: float, times: list[float], pitches: list[float]) -> Tone:
    return Tone(start=0.0, end=end, level=1.0, times=np.array(times), pitches=np.array(pitches))


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


def test_a_tone_may_be_taken_up_in_its_middle() -> None:
    """The samples of a part are those of the whole, through a slide and a bend's steps."""
    tone = line(2.0, [0.2, 0.3, 0.9, 0.9001, 1.4], [33.0, 40.0, 40.0, 40.3, 38.0])
    time = np.arange(2 * RATE) / RATE
    whole = voices.bass_tone(tone, time, 3.0, small_speakers=True)
    part = voices.bass_tone(tone, time[40_000:60_000], 3.0, small_speakers=True)
    assert np.abs(whole[40_000:60_000] - part).max() < 1e-9


def test_a_steady_tone_is_the_sum_of_its_fading_partials() -> None:
    """It is made by angle sums; here by a sine for each sample."""
    since = np.arange(3 * RATE) / RATE
    middle = slice(RATE, 2 * RATE)  # neither fading in nor out
    fall = np.exp(-since / voices.CHORD_FALL_S) / sum(s for _, s in voices.CHORD_SHARES)
    sines = sum(s * np.sin(2 * np.pi * 440 * k * since) for k, s in voices.CHORD_SHARES)
    tone = line(2.5, [0.0], [69.0])
    assert np.abs(chord_tone(tone, since, RATE) - sines * fall)[middle].max() < 1e-9
    moving = line(2.5, [0.0, 2.4999, 2.5], [69.0, 69.0, 69.5])  # made by sines: it moves at the end
    still_then = voices.bass_tone(line(2.5, [0.0], [69.0]), since[middle], 3.0)
    assert np.abs(still_then - voices.bass_tone(moving, since, 3.0)[middle]).max() < 1e-9


def test_cycles_are_the_integral_of_the_frequency() -> None:
    """The trapezoid rule on a fine grid against the closed form."""
    tone = line(1.0, [0.1, 0.2, 0.6], [33.0, 45.0, 28.0])
    time = np.arange(100_000) / 100_000
    hertz = 440.0 * 2.0 ** ((tone.pitch(time) - 69.0) / 12.0)
    run = np.concatenate(([0.0], np.cumsum((hertz[1:] + hertz[:-1]) / 2.0) / 100_000))
    assert np.abs(tone.cycles(time) - run).max() < 1e-4


def test_no_voice_passes_full_scale() -> None:
    time = np.arange(2 * RATE) / RATE
    voiced = [bass_tone(still(30), RATE, 9.0), chord_tone(still(60), time, RATE)]
    for samples in voiced + [drum_hit(key, RATE) for key in range(128)]:
        assert 0.2 < np.abs(samples).max() <= 1.0


def test_kick_snare_and_hat_are_told_apart() -> None:
    """Where half of their power lies: a kick below 150 Hz, a snare above it, a hat above 5 kHz."""

    def middle(key: int) -> float:
        power = np.abs(np.fft.rfft(drum_hit(key, RATE))) ** 2
        hertz = np.fft.rfftfreq(len(drum_hit(key, RATE)), 1 / RATE)
        return float(hertz[np.searchsorted(np.cumsum(power), power.sum() / 2)])

    assert middle(36) < 150 < middle(38) < 5000 < middle(42)
