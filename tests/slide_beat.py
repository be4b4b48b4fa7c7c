"""A beat with one bar in which something slides: its chords and roots, and what rules say of it."""

from __future__ import annotations

from dataclasses import replace

from beats import report
from slide_songs import (
    Event,
    midi_of,
    note,
    songs_of,
)

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedKey
from basslint.hear.slides.slides import Slides
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.rulebook.loader import read_book

BOOK = [r for r in read_book() if r.family in ("slides", "harmony")]
BAR = 1920
TEMPO = 428_571  # 140 bpm: a quarter is 428.6 ms, a glide of 100 ms 112 ticks
CHORDS = {"Am": (57, 60, 64), "F": (53, 57, 60), "C": (60, 64, 67), "G": (55, 59, 62)}
ROOTS = {"Am": 33, "F": 29, "C": 36, "G": 31}
LOOP = ["Am", "F", "C", "G"] * 4
SPECIAL = 5  # the bar with the slide; its chord is F

FACTS = Facts(decay_s=0.8, key=StatedKey(9, "minor"), bass=("#2",), harmony=("#1",))
RINGS = replace(FACTS, decay_s=5.0)


def arrangement(special: list[Event]) -> list[list[Event]]:
    """Chords on channel 2 and roots on channel 1, with other bass events in one bar."""
    keys = [e for b, c in enumerate(LOOP) for p in CHORDS[c]
            for e in note(b * BAR, (b + 1) * BAR, p, 2)]  # fmt: skip
    roots = [e for b, c in enumerate(LOOP) if b != SPECIAL
             for e in note(b * BAR, b * BAR + 1680, ROOTS[c])]  # fmt: skip
    return [keys, roots + special]


def findings(events: list[Event], facts: Facts = FACTS) -> tuple[Finding, ...]:
    verdict = judge(Chart(songs_of(*arrangement(events), tempo=TEMPO), facts), BOOK)
    assert verdict.faults == ()
    return verdict.findings


def mended(events: list[Event], facts: Facts = FACTS) -> tuple[Slides, list[str], Chart]:
    """The slides after all fixes, what is still said, and the chart."""
    data = midi_of(*arrangement(events), tempo=TEMPO)
    result = mend(data, lambda raw: report(raw, facts, BOOK), Choice(by_ear=True))
    assert result.faults == ()
    chart = result.after.chart
    assert chart is not None
    return chart.slides, [f.rule for f in result.after.findings], chart
