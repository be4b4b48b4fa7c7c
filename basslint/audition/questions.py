"""Where in a song can an ear be asked: for the root, and whether a slide lands in the scale?

Only what is heard with certainty is asked: a pupil who is told the wrong answer learns it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.readings.slides import (
    landing_cents,
    landing_in_chord,
    landing_in_scale,
    landing_passes,
    lands_on_octave,
)
from basslint.util.records import record

SOUNDS = 0.5  # share of a bar for which a note of the harmony must sound in it
IN_TUNE = 25.0  # cents: a landing further off its note is between notes, and neither in nor out
HEARD_DB = -24.0  # a landing below lies under kick and keys, as the page of late slides has it


@record
class Question:
    """A stretch in ticks, its answer (a root's pitch class, or 1 where a slide lands in the scale
    and 0 where it does not), how sure that is, 0 to 1, and the tick of the landing (else 0)."""

    start: int
    end: int
    answer: int
    certainty: float
    land: int = 0


def roots_to_guess(chart: Chart) -> list[Question]:
    """The bars in which one root is heard all through, with certainty, and the harmony sounds."""
    roots, grid = chart.roots, chart.song.grid
    if not len(roots):
        return []
    starts = grid.start.astype(np.int64)
    row = np.searchsorted(roots.start, starts[:-1], side="right") - 1
    at = np.maximum(row, 0)
    sure = (row >= 0) & (roots.root[at] >= 0) & (roots.certainty[at] >= CERTAIN)
    sure &= roots.end[at] >= starts[1:]
    sure &= _sounds(chart) >= SOUNDS
    return [
        Question(int(starts[b]), int(starts[b + 1]), int(roots.root[r]), float(roots.certainty[r]))
        for b, r in zip(np.flatnonzero(sure).tolist(), row[sure].tolist(), strict=True)
    ]


def _sounds(chart: Chart) -> NDArray[np.float64]:
    """Share of each bar in which its longest note of the harmony sounds, or a loop, [bars]."""
    grid, notes = chart.song.grid, chart.song.notes
    starts = grid.start.astype(np.int64)
    length = np.maximum(np.diff(starts), 1)
    share = np.zeros(grid.bars)
    rows = chart.song.rows_of(chart.parts.harmony)
    begin, end = notes.start[rows].astype(np.int64), notes.end[rows].astype(np.int64)
    if chart.loops is not None:
        begin = np.concatenate([begin, *(t.start for t in chart.loops.turns)])
        end = np.concatenate([end, *(t.end for t in chart.loops.turns)])
    first, last = grid.bar_of(begin), grid.bar_of(np.maximum(end - 1, begin))
    for bars in (first, last):
        within = np.minimum(end, starts[bars + 1]) - np.maximum(begin, starts[bars])
        np.maximum.at(share, bars, within / length[bars])
    whole = np.zeros(grid.bars + 1)  # bars that lie inside a note that is longer than they
    inside = last - first > 1
    np.add.at(whole, first[inside] + 1, 1)
    np.add.at(whole, last[inside], -1)
    share[np.cumsum(whole)[:-1] > 0] = 1.0
    return share


def landings_to_judge(chart: Chart) -> list[Question]:
    """The slides that plainly land in the scale, or plainly outside it, where the key is sure."""
    slides, keys, grid = chart.slides, chart.keys, chart.song.grid
    if not len(slides):
        return []
    key = chart.key_at(slides.land)
    sure = np.append(keys.scale_certainty, 0.0)[key]
    inside = np.array([value is True or value == 1 for value in landing_in_scale(chart)])
    chord = np.array([bool(value) for value in landing_in_chord(chart)])
    octave = np.array([bool(value) for value in lands_on_octave(chart)])
    passes = np.array([bool(value) for value in landing_passes(chart)])
    asked = (sure >= CERTAIN) & slides.lands & ~(slides.level_db < HEARD_DB) & ~passes
    asked &= np.abs(np.asarray(landing_cents(chart), dtype=np.float64)) < IN_TUNE
    asked &= inside | (~inside & ~chord & ~octave)
    questions = []
    for i in np.flatnonzero(asked).tolist():
        land = int(slides.land[i])
        bar, last = (int(grid.bar_of(int(t))) for t in (slides.onset[i], land))
        start, end = int(grid.start[bar]), int(grid.start[last + 1])
        questions.append(Question(start, end, int(inside[i]), float(sure[i]), land))
    return questions
