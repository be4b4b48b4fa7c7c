"""Which notes run on into the next four bars, tick by tick.

At 125 bpm and 480 ticks a quarter a tick lasts a millisecond (Standard MIDI Files 1.0). That a gap
is heard from some 10 ms on: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard

from basslint.readings.base import registered

BAR = 4 * 480


def song(before: str, after: str, facts: str = "") -> str:
    """Sixteen bars of which the eighth and the ninth are given; a new part begins in the ninth."""
    plain = "A1:3.5 .:.5"
    chords = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4"
    line = [*[plain] * 7, before, after, *[plain] * 7]
    return (
        f"tempo 125\nmarker 1 Verse\nmarker 9 Hook\n{facts}{chords}\nsub | {' | '.join(line)} |\n"
    )


def ticks(length: int, pitch: str = "G1") -> str:
    """A note of so many ticks, and rest to the end of the bar; longer than the bar it rings on."""
    if length > BAR:
        return f"{pitch}:4~{length - BAR}/480"
    rest = f" .:{BAR - length}/480" if length < BAR else ""
    return f"{pitch}:{length}/480{rest}"


@pytest.mark.parametrize(
    ("length", "late", "runs"),
    [
        (BAR, 0, True),
        (BAR - 9, 0, True),
        (BAR - 11, 0, False),  # a gap of 11 ms is one
        (BAR + 20, 20, True),  # what begins 20 ms late still begins the bar
        (BAR, 20, False),
        (BAR + 59, 59, True),
        (BAR + 60, 60, False),  # a thirty-second late it begins no bar
    ],
)
def test_a_note_runs_into_the_next_four_bars(length: int, late: int, runs: bool) -> None:
    after = f".:{late}/480 A1:{BAR // 2 - late}/480 .:2" if late else "A1:2 .:2"
    chart = heard(song(ticks(length), after))
    column = registered("bass-note")["runs_into_repeat"].column(chart).tolist()
    assert column[7] is runs
    assert not any(column[:7] + column[8:])
    assert registered("bass-note")["repeat_bar"].column(chart)[7] == "9"


@pytest.mark.parametrize(
    ("before", "after", "facts"),
    [
        ("G1:4", ".:4", ""),  # nothing begins there
        ("G1:4", "A1:2 .:2", "one-shot yes\n"),  # it rings on anyway
        ("G1:4~.5", "A1:2 .:2", "glide 100ms\n"),  # it slides into the next
    ],
)
def test_what_smears_nothing_is_left_alone(before: str, after: str, facts: str) -> None:
    chart = heard(song(before, after, facts))
    assert not registered("bass-note")["runs_into_repeat"].column(chart).any()
