"""Does the audition sound the pitch that the rules judge, played by the one-shot itself?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from beats import heard

from basslint.audition.mix import render
from basslint.audition.sounds import RATE, Wish
from basslint.hear.chart import Chart
from basslint.sound.one_shot import measure_samples

BEAT = "tempo {tempo}\nkeys | A3+C4+E4:4 |\nsub | {note}:4 |\n"


def audition(
    folder: Path, note: str, own_hz: float, root_key: float, seconds: float = 4
) -> tuple[np.ndarray, Chart]:
    """A bar of one note, as long as stated, played by a sound of ``own_hz`` under a root key."""
    path = folder / f"{own_hz:.3f}.wav"
    if not path.exists():
        time = np.arange(4 * RATE) / RATE
        wave = np.sin(2 * np.pi * own_hz * time) + 0.4 * np.sin(4 * np.pi * own_hz * time)
        soundfile.write(str(path), 0.6 * wave * 10 ** (-3 * time / 3), RATE)
    chart = heard(BEAT.format(note=note, tempo=240 / seconds))
    facts = replace(
        chart.facts,
        sound=str(path),
        sound_pitch=69 + 12 * float(np.log2(own_hz / 440)),
        root_key=root_key,
    )
    chart = Chart(chart.song, facts)
    return render(chart, Wish(solo=True)), chart


def pitch_of(samples: np.ndarray) -> float:
    report = measure_samples(samples[: 3 * RATE].reshape(-1, 1), RATE)
    assert report.pitch_hz is not None
    return 69 + 12 * float(np.log2(report.pitch_hz / 440))


def pitch_between_crossings(samples: np.ndarray) -> float:
    """MIDI pitch by the mean distance of rising zero crossings, which a weaker overtone that stands
    still moves all alike."""
    steady = samples[RATE // 10 : round(0.8 * RATE)]
    rise = np.flatnonzero((steady[:-1] < 0) & (steady[1:] >= 0))
    place = rise - steady[rise] / (steady[rise + 1] - steady[rise])
    return 69 + 12 * float(np.log2(RATE * (len(place) - 1) / (place[-1] - place[0]) / 440))


def test_it_sounds_what_the_rules_judge(tmp_path: Path) -> None:
    """Within 5 cents on 200 drawn notes of ten sounds under drawn root keys, by a plain counter of
    periods, which knows nothing of our pitch trackers."""
    dice = np.random.default_rng(4)
    off = []
    for hz in dice.uniform(35, 90, 10).tolist():
        for _ in range(20):
            note = f"{dice.choice(list('CDEFGAB'))}{dice.integers(1, 3)}"
            root_key = round(69 + 12 * np.log2(hz / 440)) + int(dice.integers(-5, 6))
            samples, chart = audition(tmp_path, note, hz, float(root_key), seconds=0.8)
            off.append(pitch_between_crossings(samples) - float(chart.sounding.pitch[0]))
    assert len(off) == 200 and np.abs(off).max() < 0.05


def test_an_octave_up_dies_twice_as_fast(tmp_path: Path) -> None:
    low, high = (audition(tmp_path, note, 55.0, 33.0)[0] for note in ("A1", "A2"))
    t60 = [measure_samples(s[: 3 * RATE].reshape(-1, 1), RATE).t60_s for s in (low, high)]
    assert t60[0] == pytest.approx(3.0, rel=0.05)
    assert t60[1] == pytest.approx(1.5, rel=0.05)


def test_without_a_sound_the_plain_sub_plays_on() -> None:
    chart = heard(BEAT.format(note="A1", tempo=60))
    assert pitch_of(render(chart, Wish(solo=True))) == pytest.approx(33, abs=0.05)
