"""Does the audition sound the pitch that the rules judge, played by the one-shot itself?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from beats import heard

from basslint.audition.mix import RATE, Wish, render
from basslint.hear.chart import Chart
from basslint.sound.one_shot import measure_samples

BEAT = "tempo 60\nkeys | A3+C4+E4:4 |\nsub | {note}:4 |\n"


def audition(folder: Path, note: str, own_hz: float, root_key: float) -> tuple[np.ndarray, Chart]:
    """A bar of one note, played by a sound of ``own_hz`` under a root key."""
    time = np.arange(4 * RATE) / RATE
    wave = np.sin(2 * np.pi * own_hz * time) + 0.4 * np.sin(4 * np.pi * own_hz * time)
    soundfile.write(str(folder / "sub.wav"), 0.6 * wave * 10 ** (-3 * time / 3), RATE)
    chart = heard(BEAT.format(note=note))
    facts = replace(
        chart.facts,
        sound=str(folder / "sub.wav"),
        sound_pitch=69 + 12 * float(np.log2(own_hz / 440)),
        root_key=root_key,
    )
    chart = Chart(chart.song, facts)
    return render(chart, Wish(solo=True)), chart


def pitch_of(samples: np.ndarray) -> float:
    report = measure_samples(samples[: 3 * RATE].reshape(-1, 1), RATE)
    assert report.pitch_hz is not None
    return 69 + 12 * float(np.log2(report.pitch_hz / 440))


DICE = np.random.default_rng(4)
DRAWN = [
    (f"{DICE.choice(list('CDEFGAB'))}{DICE.integers(1, 3)}", float(DICE.uniform(35, 90)))
    for _ in range(12)
]


@pytest.mark.parametrize(("note", "hz"), DRAWN)
def test_it_sounds_what_the_rules_judge(tmp_path: Path, note: str, hz: float) -> None:
    own = 69 + 12 * np.log2(hz / 440)
    samples, chart = audition(tmp_path, note, hz, float(round(own)))
    assert pitch_of(samples) == pytest.approx(float(chart.sounding.pitch[0]), abs=0.05)


def test_an_octave_up_dies_twice_as_fast(tmp_path: Path) -> None:
    low, high = (audition(tmp_path, note, 55.0, 33.0)[0] for note in ("A1", "A2"))
    t60 = [measure_samples(s[: 3 * RATE].reshape(-1, 1), RATE).t60_s for s in (low, high)]
    assert t60[0] == pytest.approx(3.0, rel=0.05)
    assert t60[1] == pytest.approx(1.5, rel=0.05)


def test_without_a_sound_the_plain_sub_plays_on() -> None:
    chart = heard(BEAT.format(note="A1"))
    assert pitch_of(render(chart, Wish(solo=True))) == pytest.approx(33, abs=0.05)
