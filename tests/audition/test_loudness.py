"""Loudness and true peak against the figures of ITU-R BS.1770-4, and against other hands."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

import basslint.audition.loudness
import basslint.audition.peaks
from basslint.audition.loudness import loudness, powers, powers_again
from basslint.audition.peaks import limit, peaks, true_peak
from basslint.audition.weighting import weighted

RATE = 44_100


STANDARD = (
    (
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (-1.69065929318241, 0.73248077421585),
    ),
    ((1.0, -2.0, 1.0), (-1.99004745483398, 0.99007225036621)),
)


def limited(samples: np.ndarray, ceiling: float, rate: int) -> np.ndarray:
    held = samples.copy()
    limit(held, ceiling, rate)
    return held


def sine(hertz: float, seconds: float, level: float = 1.0, rate: int = RATE) -> np.ndarray:
    return level * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_sine_at_full_scale_measures_minus_three(rate: int) -> None:
    """BS.1770-4, annex 1: a 997 Hz sine at 0 dBFS in one front channel measures −3.01 LKFS."""
    assert loudness(sine(997, 5, rate=rate), rate) == pytest.approx(-3.01, abs=0.02)


@pytest.mark.parametrize("hertz", [40, 60, 110, 440, 3000])
def test_other_hands_measure_the_same(hertz: float) -> None:
    import pyloudnorm

    samples = sine(hertz, 4, 0.3)
    samples[RATE : 2 * RATE] *= 0.01  # a stretch for the gates
    by_others = pyloudnorm.Meter(RATE, filter_class="DeMan").integrated_loudness(samples)
    assert loudness(samples, RATE) == pytest.approx(by_others, abs=0.1)


def test_silence_has_no_loudness() -> None:
    assert loudness(np.zeros(RATE), RATE) == -np.inf
    assert loudness(np.zeros(0), RATE) == -np.inf


def test_a_peak_between_samples_is_seen() -> None:
    """A sine at a quarter of the rate, struck at 45 degrees, peaks √2 above its samples."""
    samples = np.sin(np.pi / 2 * np.arange(2000) + np.pi / 4) * np.hanning(2000)
    assert np.abs(samples).max() == pytest.approx(0.7071, abs=1e-3)
    assert true_peak(samples) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("kind", ["noise", "hum", "fading", "spikes", "below", "cut off"])
def test_no_peak_is_passed_over_where_it_was_not_looked(kind: str) -> None:
    """Most places are not looked at: what is found must be what looking everywhere finds."""
    random = np.random.default_rng(len(kind))
    signal = random.normal(size=50_000)
    if kind == "hum":
        signal = np.sin(np.arange(50_000) * 0.01) + 0.3 * np.sin(np.arange(50_000) * 1.7)
    elif kind == "fading":
        signal *= np.exp(-np.arange(50_000) / 9_000)
    elif kind == "spikes":
        signal = np.where(random.random(50_000) < 0.001, signal, 0.0)
    elif kind == "below":
        signal = -np.hanning(50_000) * (1 + np.sin(np.pi / 2 * np.arange(50_000) + np.pi / 4))
    elif kind == "cut off":  # loudest where it begins and where it ends
        signal = np.abs(np.linspace(-1, 1, 50_000)) ** 9 * np.cos(np.arange(50_000) * 2.2)
    assert true_peak(signal) == pytest.approx(float(peaks(signal).max()), rel=1e-12)


def test_the_limiter_holds_its_ceiling_and_leaves_the_rest() -> None:
    samples = sine(50, 2, 0.2)
    samples[RATE : RATE + 400] += 2.0 * np.hanning(400)
    ceiling = 10 ** (-1 / 20)
    held = limited(samples, ceiling, RATE)
    assert true_peak(held) <= ceiling * 1.001
    away = np.r_[0 : RATE - 1000, RATE + 1500 : 2 * RATE]
    assert np.abs(held[away] - samples[away]).max() < 1e-9
    assert held.max() > 0.95 * ceiling, "no lower than it must"
    assert limited(sine(50, 1, 0.2), ceiling, RATE) == pytest.approx(sine(50, 1, 0.2))


def test_a_limited_signal_can_be_given_back() -> None:
    signal = np.random.default_rng(4).normal(size=RATE)
    held = signal.copy()
    for at, piece in limit(held, 2.0, RATE):
        held[at : at + len(piece)] = piece
    assert (held == signal).all()


def test_a_long_signal_is_worked_on_piece_by_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole, twenty minutes took 6.3 GB. Pieces must join without a seam."""
    random = np.random.default_rng(5)
    swell = np.interp(np.arange(4 * RATE), np.arange(5) * RATE, random.uniform(0, 0.9, 5))
    signal = random.normal(size=4 * RATE) * swell
    whole = (loudness(signal, RATE), true_peak(signal), limited(signal, 0.5, RATE))
    for module in (basslint.audition.loudness, basslint.audition.peaks):
        monkeypatch.setattr(module, "_PIECE", 30_011)
    assert loudness(signal, RATE) == pytest.approx(whole[0], abs=1e-6)
    assert true_peak(signal) == whole[1]
    assert limited(signal, 0.5, RATE) == pytest.approx(whole[2], abs=1e-9)


@pytest.mark.parametrize("seconds", [0.25, 0.45, 6.02])
def test_what_was_changed_is_weighed_again(seconds: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """As if all of it had been weighed; and most of it is not."""
    random = np.random.default_rng(7)
    signal = random.normal(size=round(seconds * RATE)) + 0.5  # the filters ring from a step
    power = powers(signal, RATE)
    places = [(0, 30), (3 * RATE, 500), (round(4.1 * RATE) - 1, 1), (6 * RATE, 700)]
    places = [(at, count) for at, count in places if at < len(signal)]
    for at, count in places:
        signal[at : at + count] += 3.0 * random.normal(size=len(signal[at : at + count])) + 9.0
    expected, looked = powers(signal, RATE), 0

    def counting(samples: np.ndarray, rate: int, most: int) -> Iterator[np.ndarray]:
        nonlocal looked
        looked += len(samples)
        return weighted(samples, rate, most)

    monkeypatch.setattr(basslint.audition.loudness, "weighted", counting)
    found = powers_again(power, signal, RATE, places)
    assert found == pytest.approx(expected, rel=1e-12)
    assert found != pytest.approx(power, rel=1e-3)
    assert looked <= min(seconds, 2.0) * RATE
    assert powers_again(power, signal, RATE, []) == pytest.approx(power, rel=0)


def test_the_weighting_is_that_of_the_standard() -> None:
    """ITU-R BS.1770-4, tables 1 and 2, at 48 kHz, one sample after the other; here by blocks and
    pieces."""
    signal = np.random.default_rng(3).normal(size=3_000)
    expected = signal
    for b, a in STANDARD:
        result = np.zeros(len(expected) + 2)  # two before the first are silent
        padded = np.concatenate(([0.0, 0.0], expected))
        for i in range(2, len(result)):
            fed = sum(b[k] * padded[i - k] for k in range(3))
            result[i] = fed - a[0] * result[i - 1] - a[1] * result[i - 2]
        expected = result[2:]
    for most in (1, 200, 1_000, 5_000):
        found = np.concatenate(list(weighted(signal, 48_000, most)))
        assert np.abs(found - expected).max() < 1e-9


def test_peaks_are_only_looked_for_where_they_may_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """A minute of hum with three strokes: the strokes are looked at, and not the hum."""
    signal = sine(50, 60, 0.2)
    for second in (10, 30, 50):
        signal[second * RATE :][:400] += 2.0 * np.hanning(400)
    looked = 0

    def counting(samples: np.ndarray) -> np.ndarray:
        nonlocal looked
        looked += len(samples)
        return peaks(samples)

    monkeypatch.setattr(basslint.audition.peaks, "peaks", counting)
    assert true_peak(limited(signal, 0.9, RATE)) <= 0.9 * 1.001
    assert 3 * 400 < looked < RATE * 60 / 20
