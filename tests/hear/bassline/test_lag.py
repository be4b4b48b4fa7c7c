"""Basses that lie a constant time off the drums. Latency: common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.rulebook.loader import read_book

HEAD = (
    "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
    "drums | C2:1 D2:1 C2:1 D2:1 |*16\n"
)
BEAT_MS = 60_000 / 140


def line(late: float) -> str:
    """Two notes a bar, all late by so many beats."""
    bars = [f".:{late} {n}:1.5 .:.5 {n}:1 .:{1 - late:.2f}" for n in ("A1", "F1", "C2", "G1")]
    return f"sub | {' | '.join(bars)} |*4"


@pytest.mark.parametrize("late", [0.08, 0.14, 0.25])
def test_a_constant_lag_is_told_with_its_size(late: float) -> None:
    lags = heard(HEAD + line(late)).lags
    assert len(lags.part) == 1
    assert lags.seconds[0] * 1000 == pytest.approx(late * BEAT_MS, abs=2.0)
    assert lags.share[0] > 0.9


@pytest.mark.parametrize("late", [0.01, 0.03])
def test_less_is_a_feel(late: float) -> None:
    assert len(heard(HEAD + line(late)).lags.part) == 0


def test_in_sixteenths_of_hats_kicks_and_chords_say_which_way_it_lags() -> None:
    """With hats .25 beats apart, .14 late is .11 early of the next one, which is less."""
    hats = "drums | C2+F#2:.25 F#2:.25x3 D2+F#2:.25 F#2:.25x3 |*32\n"
    lags = heard(HEAD.split("drums")[0] + hats + line(0.14)).lags
    assert lags.seconds.tolist() == pytest.approx([0.14 * BEAT_MS / 1000], abs=0.002)


def test_without_drums_nothing_lags() -> None:
    keys = HEAD.split("\n")[1]
    assert len(heard(f"tempo 140\n{keys}\n{line(0.14)}").lags.part) == 0


def test_where_the_keys_lag_too_it_is_the_drums_that_were_moved() -> None:
    keys = "keys | .:.14 A3+C4+E4:1.86 A3+C4+E4:2 |*1 || .:.14 F3+A3+C4:2 F3+A3+C4:1.86 |*15"
    drums = HEAD.split("\n")[2]
    assert len(heard(f"tempo 140\n{keys}\n{drums}\n{line(0.14)}").lags.part) == 0


def test_it_is_one_finding_that_speaks_for_all_notes() -> None:
    found = judged(HEAD + line(0.14), read_book()).findings
    (only,) = [f for f in found if f.family == "low-end"]
    assert (only.rule, only.level) == ("bass-off-drums", "warning")
    assert "60 ms behind the drums" in only.message
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 32)
    assert {(e.before or 0) - (e.after or 0) for e in only.fix.edits} <= {66, 67, 68}
