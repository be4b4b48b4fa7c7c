"""Where do phrases begin and end?

Markers decide where the file has sensible ones. Otherwise the division is the one whose phrases
have the best lengths, breathe before they begin, keep parts together that enter and leave
together, and come again as wholes (see `hear.cues`); phrase starts whose bars come again support
one another. Silent bars before the first and after the last note belong to no phrase.
"""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form import cues
from basslint.hear.form.bars import Bars, Floats, describe_bars
from basslint.hear.form.division import best_division, pick_starts, start_probability
from basslint.hear.form.phrase_names import Names, named, unnamed
from basslint.hear.form.similarity import Similarity
from basslint.hear.memo import Later
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.timing import BarGrid
from basslint.util.columns import differences, ends_of
from basslint.util.records import record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from basslint.hear.parts.parts import Parts
    from basslint.song.arrangement import Marker, Song

LEAST = 0.38  # probability of a start that is told: about half the F1 reached (Lewis 1995)
APART = 3  # bars between starts; two make half a phrase, but for the one at the song's start
MARKERS_APART = 2  # bars between section markers; what stands closer is something else
STRETCH = 256  # bars compared with one another; bounds the cost for very long files
MARKED = 0.97  # certainty of a marker: hands set it, now and then on a wrong bar
_NEAR_LINE = 8  # a marker within a bar / 8 of a bar line stands on it
_MOST = 0.5  # share of the markers that may stand off the lines, or too close together
_DIGITS = 9  # of a chance: equal bars must not differ in the last digits of a sum
_ROLES = ("lead", "harmony", "bass", "drums")
_NEVER = -40.0  # log weight of what must not be; finite, so that some division is always left
_NO_SECTION = r"loop|tempo|bpm|©|copyright"  # what markers also hold


@record(eq=False, kw_only=True)
class Phrases:
    """Phrases in order, without gaps from the first to the last sounding bar; [k] columns.

    ``start_bar``, ``end_bar`` int64: bars from 0, the end exclusive. ``certainty`` float64: how
    likely a phrase does begin at ``start_bar``, 0..1. ``names`` gives labels and reasons; they are
    told when first asked for, since only reports do.

    ``chance`` float64, one for each bar of the song and one for the line after the last: how likely
    a phrase begins there. A loop of four bars that may as well be heard in eights has an even
    chance at every other four, and none elsewhere: ask ``chance`` whether a place is off the grid.
    """

    start_bar: NDArray[np.int64]
    end_bar: NDArray[np.int64]
    certainty: NDArray[np.float64]
    chance: NDArray[np.float64]
    names: Callable[[], Names]

    def __len__(self) -> int:
        return len(self.start_bar)

    @property
    def label(self) -> tuple[str, ...]:
        """Name of each phrase [k].

        The marker's text, or "intro" for a first phrase before the lead plays, "outro" for a last
        one after it has, or a letter, the same for phrases of the same material.
        """
        return self.names()[0]

    @property
    def why(self) -> tuple[str, ...]:
        """What tells each start [k].

        "marker", "entry" (parts come or go), "repetition", "rest" (the lead breathes), "grid" (the
        usual lengths alone).
        """
        return self.names()[1]


def hear_phrases(song: Song, parts: Parts) -> Phrases:
    """Divide a song into phrases; none where no note sounds.

    Chord roots have no say: the bars' chroma tell the same about repeats and never err.
    """
    grid = song.grid
    notes = end_stuck_notes(song.notes, song.division)
    bars = describe_bars(notes, parts.role, grid, differences(song.tempo.seconds(grid.start)))
    if bars is None:
        empty = np.zeros(0, dtype=np.int64)
        return Phrases(
            start_bar=empty,
            end_bar=empty,
            certainty=np.zeros(0),
            chance=np.zeros(grid.bars + 1),
            names=unnamed,
        )
    marked = {
        bar - bars.first: text
        for bar, text in section_markers(song.markers, grid, bars.first).items()
        if bars.first <= bar < bars.first + len(bars)
    }
    return divide(bars, grid.bars, marked)


def section_markers(markers: Sequence[Marker], grid: BarGrid, first: int = 0) -> dict[int, str]:
    """Bars at which markers begin sections, with their text; empty where they make no sense.

    Markers must stand at bar lines (within an eighth of a bar) and at least two bars apart in most
    cases: chord names or lyrics kept as markers stand closer. A single marker at or before the
    ``first`` sounding bar divides nothing.
    """
    texts = [
        (m.tick, m.text.strip())
        for m in markers
        if not re.search(_NO_SECTION, m.text, re.IGNORECASE)
    ]
    texts = [(tick, text) for tick, text in texts if text]
    if not texts:
        return {}
    tick = np.array([t for t, _ in texts], dtype=np.int64)
    line = grid.start.searchsorted(tick)
    before = np.maximum(line - 1, 0)
    line = np.minimum(line, grid.bars)
    nearest = np.where(tick - grid.start[before] < grid.start[line] - tick, before, line)
    length = differences(grid.start)[np.minimum(nearest, grid.bars - 1)]
    near = np.abs(grid.start[nearest] - tick) * _NEAR_LINE <= length
    found: dict[int, str] = {}
    for bar, (_, text), ok in zip(nearest.tolist(), texts, near.tolist(), strict=True):
        if ok and bar < grid.bars:
            found.setdefault(bar, text)
    if len(found) == 1 and min(found) <= first:
        return {}  # a title, not a section
    close = np.diff(sorted(found)) < MARKERS_APART
    if near.mean() < _MOST or (len(close) and close.mean() > _MOST):
        return {}
    return found


def divide(bars: Bars, song_bars: int, marked: dict[int, str] | None = None) -> Phrases:
    """Divide described bars; ``marked``: rows where a marker stands, with its text."""
    marked = marked or {}
    chance, score, support = _chances(bars, sorted(marked))
    if marked:
        chance[list(marked)] = MARKED
    chance[0] = 1.0  # the first sounding bar is a fact
    begin = _choose(chance, score, bars.struck, marked)
    end = ends_of(begin, len(bars))
    whole = np.zeros(song_bars + 1)
    whole[bars.first : bars.first + len(bars)] = chance
    whole[bars.first + len(bars)] = 1.0  # so is the line after the last
    return Phrases(
        start_bar=begin + bars.first,
        end_bar=end + bars.first,
        certainty=chance[begin],
        chance=whole,
        names=Later(partial(named, bars, begin, support, marked)),
    )


def _chances(bars: Bars, marked: list[int]) -> tuple[Floats, Floats, Floats]:
    """Weigh all phrases.

    Gives the probability of a phrase start at each bar [n], the scores of phrases [n, longest], and
    what its repeats add to a start's score [n].
    """
    stretches = []
    scores = []
    compared = Similarity.of(bars, _ROLES)
    count = -(-len(bars) // STRETCH)  # of stretches of one size, or nearly
    for k in range(count):
        begin, end = k * len(bars) // count, (k + 1) * len(bars) // count
        similarities = compared.matrices(begin, end)
        starts = cues.starts(bars, begin, similarities[0])
        scores.append(starts[:, None] + cues.phrases(bars, begin, similarities[0]))
        stretches.append((begin, cues.repeats(similarities)))
    score = scores[0] if len(scores) == 1 else np.concatenate(scores)
    score[0] -= np.maximum.reduce(score[0])  # the first bar begins a phrase whatever its cues say
    score[bars.struck + 1 :] += _NEVER  # what only rings on begins nothing
    for bar in marked:
        for begin in range(max(bar - cues.LONGEST + 1, 0), bar):
            score[begin, bar - begin :] += _NEVER
    chance = start_probability(score)
    support = np.zeros(len(bars))
    for begin, same in stretches:
        rows = slice(begin, begin + same.shape[-1])
        of_all, of_backing = cues.twins(same, chance[rows])
        support[rows] = cues.TWINS * of_all + cues.TWINS_BACKING * of_backing
    score = score + support[:, None]
    chance = start_probability(score)
    chance[bars.struck + 1 :] = 0.0
    return np.round(chance, _DIGITS), score, support


def _choose(
    chance: Floats, score: Floats, struck: int, marked: dict[int, str]
) -> NDArray[np.int64]:
    """Rows where phrases begin: the markers, and between them what is likely enough.

    Where nothing is for longer than a phrase can be, the best division stands in: its starts have
    the little certainty that they have.
    """
    fixed = sorted({0, *marked})
    rows: list[int] = []
    for begin, end in zip(fixed, [*fixed[1:], len(chance) + APART - 1], strict=True):
        before = max(end - APART + 1, begin + 1)  # a marker keeps its distance, too
        rows += [begin + row for row in pick_starts(chance[begin:before], LEAST, APART)]
    last = min(struck + cues.LONGEST, len(chance))  # what rings on longer belongs to the last
    result: list[int] = []
    for begin, end in zip(rows, [*rows[1:], last], strict=True):
        long = end - begin > cues.LONGEST
        inner = best_division(score[begin:end]) if long else [0]
        result += [begin + row for row in inner]
    return np.array(result, dtype=np.int64)
