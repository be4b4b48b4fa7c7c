"""How much music a loop plays after its bars, counted in eighths of a made sound.

That a tail falls and sways as its tones beat, and is no music that was cut off: common practice, no
source.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.bars import Bars
from basslint.audio.left_over import music_left
from basslint.audio.spectra import RATE_HZ
from basslint.util.records import replace

EIGHTH_S = 0.25
# two bars of 4/4 at 120 beats a minute: sixteen eighths, four seconds
BARS = Bars(
    bpm=120.0,
    bars=2,
    meter=(4, 4),
    begins_s=0.0,
    cut=False,
    tempo_heard=True,
    bars_heard=True,
    begins_heard=True,
)


def sound(after_db: list[float], before: int = 0) -> np.ndarray:
    """A tone of 440 Hz: silence for some eighths, full for sixteen, then at these levels."""
    levels = np.array([-120.0] * before + [0.0] * 16 + after_db)
    time = np.arange(round(len(levels) * EIGHTH_S * RATE_HZ)) / RATE_HZ
    gain = 10.0 ** (levels[np.minimum(time // EIGHTH_S, len(levels) - 1).astype(int)] / 20.0)
    wave = np.sin(2 * np.pi * 440.0 * time)
    return (0.5 * gain * wave).astype(np.float32)


@pytest.mark.parametrize(
    ("after_db", "left"),
    [
        ([], None),
        ([-40.0] * 6, None),  # silence, or the noise of the room
        ([-9.0] * 6, None),
        ([-7.0] * 6, 1.5),  # as loud as music is
        ([0.0] * 6, 1.5),
        ([0.0] * 2, None),  # a quarter of a bar is a late cut
        ([0.0] * 3, 0.75),
        ([0.0] * 3 + [-40.0] * 3, 0.75),  # up to the last that is loud
        ([-40.0] * 2 + [0.0] + [-40.0] * 3, 0.75),
        ([-1.0, -2.0, -3.0, -4.0, -5.0, -6.0], None),  # a tail
        ([0.0, -0.5, -1.0, -1.5], 1.0),  # hardly falls
        ([0.0, -0.5, -1.0, -2.5], None),
        ([0.0, -4.0, -2.0, -6.0], None),  # sways by a third of its fall
        ([0.0, -4.0, -0.5, -6.0], 1.0),  # by more than half: it is struck again
        ([0.0, -6.0, -5.0, -0.5], 1.0),
    ],
)
def test_music_after_the_bars(after_db: list[float], left: float | None) -> None:
    assert music_left(sound(after_db), BARS) == (left and pytest.approx(left, abs=0.01))


def test_music_to_the_very_end_is_told_to_the_end() -> None:
    half = round(EIGHTH_S / 2 * RATE_HZ)
    assert music_left(sound([0.0] * 4)[:-half], BARS) == pytest.approx(0.875, abs=0.01)
    assert music_left(sound([0.0] * 4 + [-40.0] * 2)[:-half], BARS) == pytest.approx(1.0, abs=0.01)


def test_a_tempo_whose_eighths_are_shorter_than_a_sample() -> None:
    """A file may state a million beats a minute (Standard MIDI Files 1.0: microseconds)."""
    assert music_left(sound([0.0] * 4), replace(BARS, bpm=1e6, bars=4)) == pytest.approx(5, abs=0.1)


def test_bars_that_begin_late_or_before_the_sound() -> None:
    late = replace(BARS, begins_s=0.5)
    assert music_left(sound([0.0] * 4, before=2), late) == pytest.approx(1.0, abs=0.01)
    assert music_left(sound([-40.0] * 4, before=2), late) is None
    early = replace(BARS, begins_s=-0.5)  # a pickup: the last two eighths are left over
    assert music_left(sound([0.0]), early) == pytest.approx(0.75, abs=0.01)


def test_eighths_are_those_of_the_meter() -> None:
    """In 6/8 a bar has six eighths: two bars are twelve of the sixteen."""
    bars = replace(BARS, meter=(6, 8))
    assert music_left(sound([0.0, 0.0, -40.0]), bars) == pytest.approx(1.5, abs=0.01)


@pytest.mark.parametrize("bars", [replace(BARS, cut=True), replace(BARS, bars_heard=False)])
def test_bars_that_were_stated_or_fill_the_sound_leave_nothing(bars: Bars) -> None:
    assert music_left(sound([0.0] * 6), bars) is None
