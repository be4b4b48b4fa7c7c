"""What is said of a loop that is not simply heard: each sentence where it belongs, and no other.

The loop is made up of numbers: two bars of 4/4 at 120 beats a minute, four seconds.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from basslint.audio import remarks
from basslint.audio.bars import Bars
from basslint.audio.left_over import LeftOver
from basslint.audio.loop import HARMONY_HEARD
from basslint.audio.remarks import loop_remarks
from basslint.util.records import replace

BARS = Bars(
    bpm=120.0,
    bars=2,
    meter=(4, 4),
    begins_s=0.0,
    cut=False,
    tempo_heard=False,
    bars_heard=True,
    begins_heard=True,
)


def loop(
    notes: float = 1.0,
    weight: float = 1.0,
    left: LeftOver | None = None,
    off_s: float | None = None,
    cents: float = 0.0,
    bars: Bars = BARS,
    lasts_s: float = 4.0,
    said: tuple[str, ...] = (),
) -> Any:
    """``notes``, ``weight``: of all eighths but the last, which has none."""
    return SimpleNamespace(
        sound=SimpleNamespace(remarks=said, duration_s=lasts_s),
        bars=bars,
        tuning=SimpleNamespace(cents=cents),
        tonality=SimpleNamespace(notes=np.full(4, notes), weight=np.array([weight, 0.0])),
        off_s=off_s,
        left=left,
    )


@pytest.fixture(autouse=True)
def _plainly_tuned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remarks, "other_reading", lambda tuning: 0.0)


def words(heard: Any, in_song: bool = False) -> list[str]:
    """What is said of a loop, each sentence by its first words."""
    return [" ".join(said.split()[:4]) for said in loop_remarks(heard, in_song)]


LEFT = LeftOver(1.0, 3, 150.0)


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        (loop(), []),
        (loop(said=("The file is stereo.",)), ["The file is stereo."]),
        (loop(notes=0.2), ["No harmony is heard:"]),
        (loop(notes=0.25), []),
        (loop(weight=HARMONY_HEARD - 0.01), ["One note at a"]),
        (loop(weight=HARMONY_HEARD), []),
        (loop(left=LEFT), ["It is no whole"]),
        (loop(off_s=0.1), ["The loop does not"]),
        (loop(left=LEFT, off_s=0.1), ["It is no whole"]),  # its grid is none, then
        (loop(notes=0.2, left=LEFT, off_s=0.1), ["No harmony is heard:"]),
        (loop(bars=replace(BARS, tempo_heard=True)), ["The tempo, 120.0 bpm,"]),
        (loop(lasts_s=5.0), []),  # half a bar
        (loop(lasts_s=5.1), ["1.10 s after the"]),
        (loop(lasts_s=5.1, bars=replace(BARS, cut=True)), []),
        (loop(lasts_s=5.1, left=LEFT), ["It is no whole"]),  # that tells it
    ],
)
def test_what_is_said_of_a_loop(heard: Any, said: list[str]) -> None:
    assert words(heard) == said


def test_a_guessed_tempo_names_the_option_that_states_it() -> None:
    assert "--bpm" in loop_remarks(loop(bars=replace(BARS, tempo_heard=True)))[0]


@pytest.mark.parametrize(
    ("chance", "notes", "cents", "said"),
    [
        (0.05, 1.0, 45.0, []),
        (0.06, 1.0, 45.0, ["It stands 45 cents sharp, near a quarter tone"]),
        (0.06, 1.0, -45.0, ["It stands 45 cents flat, near a quarter tone"]),
        (0.06, 0.2, 45.0, ["No harmony is heard"]),  # what has no notes has no tuning
    ],
)
def test_a_loop_near_a_quarter_tone(
    chance: float, notes: float, cents: float, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remarks, "other_reading", lambda tuning: chance)
    found = [told.split(":")[0] for told in loop_remarks(loop(notes=notes, cents=cents))]
    assert found == said


@pytest.mark.parametrize(("off_s", "side"), [(0.08, "80 ms after"), (-0.08, "80 ms before")])
def test_on_which_side_of_the_grid_the_strokes_lie(off_s: float, side: str) -> None:
    assert f"its strokes lie {side} the grid" in loop_remarks(loop(off_s=off_s))[0]


UNFIT = LeftOver(1.0, None, None)


@pytest.mark.parametrize(
    ("left", "bars", "in_song", "advice"),
    [
        (LEFT, BARS, False, "Its length fits --bpm 150.0 --bars 3."),
        (UNFIT, BARS, False, "State its tempo or its length: --bpm, --bars."),
        (LEFT, replace(BARS, tempo_heard=True), False, "State its tempo or its length"),
        (LEFT, BARS, True, "Its length fits 150.0 bpm, with bars = 3: state that under [[loop]]"),
        (UNFIT, BARS, True, "Name another loop, or state its length as `bars` under [[loop]]."),
        (LEFT, replace(BARS, tempo_heard=True), True, "Its length fits 150.0 bpm"),
    ],
)
def test_what_to_do_with_a_loop_of_no_whole_bars(
    left: LeftOver, bars: Bars, in_song: bool, advice: str
) -> None:
    said = loop_remarks(loop(left=left, bars=bars), in_song)[0]
    assert "after 2 bars its music goes on for 1.00 s (0.50 bars)" in said
    assert advice in said


def test_one_bar_is_one_bar() -> None:
    one = replace(BARS, bars=1)
    assert "after 1 bar its music" in loop_remarks(loop(left=LEFT, bars=one))[0]
