"""Which pitch is claimed, how surely, and when is none? Sounds with the truth in their formula."""

from __future__ import annotations

import numpy as np
import pytest
from bench.one_shots import NO_NOTE, RATE, draw

from basslint.sound.one_shot import SoundReport, measure_samples

F1 = 43.654  # Hz, ISO 16


def partials(hz: float, levels_db: list[float], seconds: float = 1.2) -> np.ndarray:
    """A sound that dies in 1.5 s, its partials at the given levels, in phases that do not agree."""
    time = np.arange(int(seconds * RATE)) / RATE
    waves = [
        10 ** (db / 20) * np.sin(2 * np.pi * (k + 1) * hz * time + 1.3 * k * k)
        for k, db in enumerate(levels_db)
    ]
    wave = np.sum(waves, axis=0) * 10 ** (-3 * time / 1.5)
    return 0.9 * wave / np.abs(wave).max()


def heard(wave: np.ndarray) -> SoundReport:
    return measure_samples(wave[:, None], RATE)


@pytest.mark.parametrize(
    ("name", "levels"),
    [
        ("a bare tone", [0]),
        ("harmonics 6 dB under it", [0, -6, -6, -6, -6]),
        ("harmonics above it", [0, 6, 6, 3, 3]),
        ("a fundamental 15 dB under its octave", [-15, 0, -3, -6, -9]),
        ("odd harmonics alone", [0, -60, -3, -60, -6, -60, -9]),
    ],
)
@pytest.mark.parametrize("hz", [31.0, F1, 77.8, 109.0])
def test_harmonics_do_not_take_the_pitch_over(name: str, levels: list[float], hz: float) -> None:
    report = heard(partials(hz, levels))
    assert report.pitch_hz == pytest.approx(hz, rel=0.002)
    assert report.pitch_certainty is not None and report.pitch_certainty >= 0.95


@pytest.mark.parametrize("seed", range(20))
def test_drawn_sounds_are_right_or_not_told(seed: int) -> None:
    wave, shot = draw(seed)
    report = heard(wave)
    if report.pitch_hz is None:
        assert "no note is claimed" in report.remarks[0] or "No steady pitch" in report.remarks[0]
        return
    cents = 1200 * np.log2(report.pitch_hz / shot.hz)
    assert abs(cents) <= (5 if report.settled_s is not None else 50)


def test_most_drawn_sounds_are_told() -> None:
    told = [heard(draw(seed)[0]).pitch_hz is not None for seed in range(100, 140)]
    assert np.mean(told) >= 0.85


@pytest.mark.parametrize("kind", NO_NOTE)
def test_no_note_is_claimed_where_there_is_none(kind: str) -> None:
    reports = [heard(draw(seed, kind)[0]) for seed in range(12)]
    assert np.mean([r.pitch_hz is None for r in reports]) >= 0.8
    assert all(r.remarks for r in reports if r.pitch_hz is None)
    assert all(r.note is None and r.cents_off is None for r in reports if r.pitch_hz is None)


def test_two_notes_are_named() -> None:
    both = np.concatenate((partials(F1, [0, -6], 1.0), partials(58.27, [0, -6], 1.0)))
    report = heard(both)
    assert report.pitch_hz is None
    assert "two notes (43.7 Hz and 58.3 Hz)" in report.remarks[0]


def test_a_pitch_that_moves_to_the_end_is_none() -> None:
    time = np.arange(2 * RATE) / RATE
    wave = np.sin(2 * np.pi * np.cumsum(F1 * 2 ** (-time / 6)) / RATE) * 10 ** (-time)
    report = heard(0.9 * wave)
    assert report.pitch_hz is None
    assert "no note is claimed" in report.remarks[0]


def falling(hz: float, constant: float, t60: float) -> np.ndarray:
    """A sound that starts 1.2 octaves high and falls exponentially, dying on the way."""
    time = np.arange(int(0.35 * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(hz * 2 ** (1.2 * np.exp(-time / constant))) / RATE
    wave = sum(10 ** (-9 * k / 20) * np.sin((k + 1) * phase) for k in range(4))
    wave = wave * 10 ** (-3 * time / t60)
    return np.asarray(0.9 * wave / np.abs(wave).max())


@pytest.mark.parametrize("hz", [F1, 77.8, 98.0])
@pytest.mark.parametrize(("constant", "t60"), [(0.05, 0.2), (0.06, 0.25), (0.08, 0.3)])
def test_a_fall_is_carried_on_to_the_note_that_it_is_bound_for(
    hz: float, constant: float, t60: float
) -> None:
    report = heard(falling(hz, constant, t60))
    assert report.pitch_hz is not None and report.settled_s is None
    assert abs(1200 * np.log2(report.pitch_hz / hz)) <= 12
    assert report.pitch_certainty == pytest.approx(0.95)
    assert "take its cents as rough" in report.remarks[0]


def ramp(hz: float, ends: float, seconds: float, t60: float, sway: float = 0.0) -> np.ndarray:
    """A sound that falls straight from half an octave high, and may sway by some cents after."""
    time = np.arange(int(seconds * RATE)) / RATE
    octaves = 0.5 * np.maximum(1 - time / ends, 0)
    octaves = octaves + sway / 1200 * np.sin(2 * np.pi * 3.5 * time) * np.clip(time / 0.3, 0, 1)
    wave = np.sin(2 * np.pi * np.cumsum(hz * 2**octaves) / RATE)
    return 0.9 * wave * 10 ** (-3 * time / t60)


@pytest.mark.parametrize("hz", [40.6, 74.2, 98.0])
@pytest.mark.parametrize(("ends", "seconds"), [(0.15, 0.45), (0.25, 0.55)])
def test_a_straight_fall_is_told_by_its_end(hz: float, ends: float, seconds: float) -> None:
    """An exponential would lie 4 to 6 cents off: it goes on falling where this one has ended."""
    report = heard(ramp(hz, ends, seconds, 0.5))
    assert report.settled_s == pytest.approx(ends, abs=0.03)
    assert abs(1200 * np.log2(report.pitch_hz / hz)) <= 1.5


@pytest.mark.parametrize("seed", [71079, 71387, 71852, 71732, 72194])
def test_cents_that_are_not_sure_are_not_told_as_sure(seed: int) -> None:
    """A vibrato that the sound is too short to follow: 12 to 38 cents off, the note is right."""
    wave, shot = draw(seed)
    report = heard(wave)
    assert report.pitch_hz is not None and abs(1200 * np.log2(report.pitch_hz / shot.hz)) > 5
    assert report.settled_s is None and report.pitch_certainty >= 0.95
    assert "take its cents as rough" in report.remarks[0]


@pytest.mark.parametrize("constant", [0.12, 0.3])
def test_a_fall_that_has_far_to_go_tells_no_note(constant: float) -> None:
    assert heard(falling(F1, constant, 0.25)).pitch_hz is None


def test_vibrato_is_measured_and_averaged() -> None:
    time = np.arange(2 * RATE) / RATE
    phase = np.cumsum(F1 * 2 ** (30 / 1200 * np.sin(2 * np.pi * 5 * time))) / RATE
    report = heard(0.9 * np.sin(2 * np.pi * phase) * 10 ** (-time))
    assert report.pitch_hz is not None
    assert abs(1200 * np.log2(report.pitch_hz / F1)) <= 3
    assert report.sway_cents == pytest.approx(30, abs=5)


def test_a_bow_that_swells_to_the_end_is_heard_from_its_start() -> None:
    time = np.arange(RATE) / RATE
    wave = np.sin(2 * np.pi * F1 * time) * (0.6 + 0.3 * time)
    assert heard(wave).pitch_hz == pytest.approx(F1, rel=0.002)
