"""One note-off is lost from a line that strikes its keys again and again: which note is told?

The law is the fault itself: the note whose end was taken out, and no other.
"""

from __future__ import annotations

import random
from dataclasses import fields
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from midi_bytes import midi, track

from basslint.hear.stuck_notes import end_stuck_notes
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, Notes, Song, build

Line = list[tuple[int, int, int]]  # start, end, pitch


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """Notes of one part in order; notes of one key touch at most."""
    found: Line = []
    free: dict[int, int] = {}
    start = 0
    for _ in range(draw(st.integers(1, 24))):
        start += draw(st.integers(0, 200))
        pitch = draw(st.sampled_from((33, 36, 40)))
        begin = max(start, free.get(pitch, 0))
        free[pitch] = begin + draw(st.integers(1, 300))
        found.append((begin, free[pitch], pitch))
    return sorted(found, key=lambda note: (note[0], note[2]))


def song(line: Line, lost: int | None, ends_first: bool) -> Song:
    """The line as a file; ``lost``: the note whose end is left out."""
    events = [(start, ends_first, b"\x90" + bytes((p, 90))) for start, _, p in line]
    events += [
        (end, not ends_first, b"\x80" + bytes((p, 64)))
        for row, (_, end, p) in enumerate(line)
        if row != lost
    ]
    events.sort(key=lambda e: e[:2])
    ticks = [0, *(e[0] for e in events)]
    deltas = [after - before for before, after in pairwise(ticks)]
    return build(scan(midi(track(*zip(deltas, (e[2] for e in events), strict=True)))))


def rows(notes: Notes) -> list[tuple[int, int, int]]:
    return list(zip(*(c.tolist() for c in (notes.start, notes.end, notes.pitch)), strict=True))


@given(lines(), st.booleans(), st.randoms(use_true_random=False))
def test_the_note_whose_end_was_lost_is_told_and_no_other(
    line: Line, ends_first: bool, rng: random.Random
) -> None:
    lost = rng.randrange(len(line))
    built = song(line, lost, ends_first)
    assert np.flatnonzero(built.notes.off_row == NEVER).tolist() == [lost]
    again = [start for start, _, pitch in line[lost + 1 :] if pitch == line[lost][2]]
    want = list(line)
    want[lost] = (line[lost][0], min(again, default=built.end_tick), line[lost][2])
    assert rows(built.notes) == want


@given(lines(), st.booleans())
def test_where_every_note_is_ended_nothing_is_told(line: Line, ends_first: bool) -> None:
    built = song(line, None, ends_first)
    assert rows(built.notes) == line
    assert end_stuck_notes(built.notes, built.division) is built.notes


@given(lines(), st.randoms(use_true_random=False))
def test_a_stuck_note_is_heard_to_the_next_note_of_its_part_at_the_latest(
    line: Line, rng: random.Random
) -> None:
    lost = rng.randrange(len(line))
    built = song(line, lost, True)
    heard = end_stuck_notes(built.notes, built.division)
    together = built.division // 16  # a chord's other notes do not end it
    start = line[lost][0]
    later = [s for s, _, p in line if s > start and (s >= start + together or p == line[lost][2])]
    assert heard.end[lost] == min([built.end_tick, *later])
    others = np.arange(len(line)) != lost
    for field in fields(Notes):
        if field.name != "end":
            assert np.array_equal(getattr(heard, field.name), getattr(built.notes, field.name))
    assert np.array_equal(heard.end[others], built.notes.end[others])
