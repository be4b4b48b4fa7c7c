"""Under which bass notes does a loop of sound not say enough to judge them?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.cover import longest_overlap
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP
from basslint.readings.accompaniment import SILENT, rub_share, supported
from basslint.readings.copies import chord_with, claimed
from basslint.readings.notes import bass_spellings
from basslint.readings.recurrence import copies_otherwise
from basslint.theory.chords import SUFFIXES
from basslint.theory.names import SPELLINGS

Bools = NDArray[np.bool_]

# why a note is not judged
MOVES = "the chord of the loop moves here"
UNCLEAR = "the loop does not say clearly enough which chord this is"
_LACKS, _HAS = 0.1, 0.5  # chance that a loop sounds a pitch class: hardly, likely
_HARDLY = 0.2  # of a tone of the chord that is heard there, whose likeliness the chord has raised


def over_loop(chart: Chart) -> tuple[Bools, Bools, Bools]:
    """Under each bass note, whether the loop's chord is not clear enough, whether it moves so that
    the note may go along, and whether it moves and the note is foreign to either end; bool [m]
    each.

    Whatever the chord is called, and whichever way it moves, a note that surely does not sound in
    the loop may be judged where its neighbour does, or where the bass has another note there in all
    other copies; but none on which another reading of an unsure chord stands.
    """
    is_loop = np.append(chart.roots.source == LOOP, False)  # −1, no chord: the last one
    chord, of_loop = np.maximum(chart.bass_chords, 0), is_loop[chart.bass_chords]
    unclear = of_loop & (np.append(chart.roots.certainty, 1.0)[chord] < CERTAIN)
    unclear |= of_loop & _may_be_its_root(chart)
    moving = of_loop & (np.append(chart.roots.root, 0)[chord] < 0)
    foreign = supported(chart) <= _LACKS
    if len(chart.roots):  # nor may another reading of the loop stand on it
        fit = chart.roots.fit[chord, chart.bass.pitch % 12]
        foreign &= (fit <= _LACKS) | moving
    foreign &= (rub_share(chart) >= _HAS) | (copies_otherwise(chart) > 0)
    return unclear & ~foreign, moving & ~foreign, moving & foreign


def clear_over_loop(chart: Chart) -> tuple[Bools, Bools]:
    """Which bass notes lie over a loop, and where it says enough to judge them; bool [m] each."""
    unclear, moving, _ = over_loop(chart)
    return np.append(chart.roots.source == LOOP, False)[chart.bass_chords], ~(unclear | moving)


def _may_be_its_root(chart: Chart) -> Bools:
    """May what sounds be a chord on the bass note, as well as the one that is heard: a tone of that
    one hardly sounds, and the others make a common chord on the note? B and D are G as well as Bm.
    """
    assert chart.loops is not None
    sounds = chart.loops.during(chart.bass.start, chart.bass.end)
    lacks = (claimed(chart) & (sounds <= _HARDLY)).any(axis=1)
    return lacks & chord_with(chart, sounds >= _HAS)


def ends_at(chart: Chart, rows: NDArray[np.intp]) -> list[tuple[str, str] | None]:
    """The chords between which a loop moves under some of the bass notes, such as Am and Dm; None
    where it does not, or where they are not told.
    """
    return [_ends(chart, int(chart.bass_chords[row]), int(row)) for row in rows]


def _ends(chart: Chart, chord: int, row: int) -> tuple[str, str] | None:
    roots, last = chart.roots, len(chart.roots) - 1
    if not 0 < chord < last or roots.root[chord] >= 0 or roots.source[chord] != LOOP:
        return None
    if roots.end[chord - 1] != roots.start[chord] or roots.start[chord + 1] != roots.end[chord]:
        return None
    names = SPELLINGS[int(bass_spellings(chart)[row])]
    ends = [
        names[int(roots.root[k])] + SUFFIXES.get(roots.quality_name(k), "")
        for k in (chord - 1, chord + 1)
        if roots.root[k] >= 0
    ]
    return (ends[0], ends[1]) if len(ends) > 1 else None


def without_chord(chart: Chart, start: int, end: int) -> str:
    """Why no chord stands in a span of ticks: a loop's chord moves for most of it, or silence."""
    roots = chart.roots
    row = longest_overlap(np.array([start]), np.array([end]), roots.start, roots.end)[0]
    moves = row >= 0 and roots.root[row] < 0 and roots.source[row] == LOOP
    return MOVES if moves else SILENT
