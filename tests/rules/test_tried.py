"""A fix that would only bring another finding about is not offered."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.fixes.tried import LONGEST_MEETING, LONGEST_RUB, fits_in
from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"
ROOTS = "A1:4 | F1:4 | C2:4 | G1:4"
A, AS, F, FS, G = 9, 10, 5, 6, 7


@pytest.mark.parametrize(
    ("page", "beats"), [("rubs-with-harmony", LONGEST_RUB), ("two-basses", LONGEST_MEETING)]
)
def test_a_fix_is_tried_by_the_numbers_of_the_pages(page: str, beats: float) -> None:
    (rule,) = (rule for rule in read_book() if rule.name == page)
    assert rule.numbers["least_beats"] == beats


@pytest.mark.parametrize(
    ("tone", "fits"),
    [
        (A, True),  # a tone of the chord
        (F, True),
        (FS, False),  # rubs against F, a semitone away, for a bar
        (AS, False),
        (G, True),  # of no chord, but it rubs against nothing
    ],
)
def test_a_note_is_tried_against_the_harmony(tone: int, fits: bool) -> None:
    chart = heard(f"{KEYS}sub | {ROOTS} |*4")
    assert fits_in(chart, 1, tone) == fits


def test_a_note_is_tried_against_the_other_bass() -> None:
    layer = "A2:4 | A2:4 | C3:4 | G2:4"
    chart = heard(f"{KEYS}low-bass | A1:4 | A1:4 | C2:4 | G1:4 |*4\nmid-bass | {layer} |*4")
    part = [i for i in chart.parts.bass if chart.song.parts[i].name == "mid-bass"]
    row = int(np.flatnonzero(chart.bass.part == part[0])[1])
    assert fits_in(chart, row, A)  # in octaves with the other
    assert not fits_in(chart, row, F)  # the root, but two basses then


def test_what_rubs_already_is_no_reason_against_a_place_that_rubs_as_much() -> None:
    chart = heard(f"{KEYS}sub | A1:4 | F#1:4 | C2:4 | G1:4 || {ROOTS} |*3")
    assert fits_in(chart, 1, 4)  # E rubs against F as F# does
