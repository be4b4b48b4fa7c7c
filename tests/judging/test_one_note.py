"""What is said of one note alone is what a report of the whole song says of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from beats import report
from nudged_by_hand import spoken

from basslint.hear.facts import Facts
from basslint.judging.one_note import spoken_of
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat

BOOK = read_book()
SAMPLES = Path(__file__).parents[2] / "samples"
OF_ONE_NOTE = [r for r in BOOK if r.judges in ("bass-note", "note", "slide", "fill")]


def told(data: bytes, facts: Facts) -> tuple[list[set[str]], list[set[str]]]:
    """Of each note of the song what is said of it alone, and what the report says."""
    whole = report(data, facts, BOOK)
    notes, chart = whole.chart.song.notes, whole.chart
    alone = [{f"{lv} {r}" for r, lv in spoken_of(chart, BOOK, n)} for n in range(len(notes))]
    places = zip(notes.part + 1, notes.start, notes.pitch, strict=True)
    return alone, [spoken(whole, int(p), int(t), int(k)) for p, t, k in places]


@pytest.mark.parametrize("rule", OF_ONE_NOTE, ids=lambda r: r.name)
def test_each_note_of_a_flagged_example(rule) -> None:
    beat = compile_beat(next(e.text for e in rule.examples if e.flagged))
    alone, whole = told(beat.data, beat.facts)
    assert alone == whole
    if rule.judges != "slide":  # a bend may begin later than the note that it bends
        assert any(f" {rule.name}" in said for those in alone for said in those)
