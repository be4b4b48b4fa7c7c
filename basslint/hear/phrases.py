"""Where do phrases begin and end?

Markers decide where the file has sensible ones. Otherwise the division is the one whose phrases
have the best lengths, breathe before they begin, keep parts together that enter and leave
together, and come again as wholes (see `hear.cues`); phrase starts whose bars come again support
one another. Silent bars before the first and after the last note belong to no phrase.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear import cues
from basslint.hear.bars import Bars, Floats, describe_bars
from basslint.hear.likeness import Likeness
from basslint.hear.segment import best_division, pick_starts, start_probability
from basslint.timing import BarGrid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from basslint.hear.parts import Parts
    from basslint.hear.roots import Roots
    from basslint.song import Marker, Song

LEAST = 0.38  # probability of a start that is told: about half the F1 reached (Lewis 1995)
APART = 3  # bars between starts; two make half a phrase, but for the one at the song's start
MARKERS_APART = 2  # bars between section markers; what stands closer is something else
STRETCH = 256  # bars compared with one another; bounds the cost for very long files
MARKED = 0.97  # certainty of a marker: hands set it, now and then on a wrong bar
SAME = 0.7  # bars alike from here on are the same material: the same letter
_BACKING = ("harmony", "bass", "drums")
_MOST_HEADS = 52  # letters that a phrase is compared with: bounds the cost for very long files
_NEVER = -40.0  # log weight of what must not be; finite, so that some division is always left
_NO_SECTION = re.compile(r"loop|tempo|bpm|©|copyright", re.IGNORECASE)  # what markers also hold


@dataclass(frozen=True, slots=True, eq=False)
class Phrases:
    """Phrases in order, without gaps from the first to the last sounding bar; [k] columns.

    ``start_bar``, ``end_bar`` int64: bars from 0, the end exclusive. ``label``: the marker's text,
    or "intro" for a first phrase before the lead plays, "outro" for a last one after it has, or a
    letter, the same for phrases of the same material. ``why``: what tells the start: "marker",
    "entry" (parts come or go), "repetition", "rest" (the lead breathes), "grid" (the usual lengths
    alone). ``certainty`` float64: how likely a phrase does begin at ``start_bar``, 0..1.

    ``chance`` float64, one for each bar of the song and one for the line after the last: how likely
    a phrase begins there. A loop of four bars that may as well be heard in eights has an even
    chance at every other four, and none elsewhere: ask ``chance`` whether a place is off the grid.
    """

    start_bar: NDArray[np.int64]
    end_bar: NDArray[np.int64]
    label: tuple[str, ...]
    why: tuple[str, ...]
    certainty: NDArray[np.float64]
    chance: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.start_bar)


def hear_phrases(song: Song, parts: Parts, roots: Roots | None = None) -> Phrases:
    """Divide a song into phrases. No phrases where no note sounds.

    ``roots`` are not used: the bars' chroma tell the same about repeats and never err.
    """
    del roots
    grid = song.grid
    bars = describe_bars(song.notes, parts.role, grid, np.diff(song.tempo.seconds(grid.start)))
    if bars is None:
        empty = np.zeros(0, dtype=np.int64)
        return Phrases(empty, empty, (), (), np.zeros(0), np.zeros(grid.bars + 1))
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
    texts = [(m.tick, m.text.strip()) for m in markers if not _NO_SECTION.search(m.text)]
    texts = [(tick, text) for tick, text in texts if text]
    if not texts:
        return {}
    tick = np.array([t for t, _ in texts], dtype=np.int64)
    line = np.searchsorted(grid.start, tick)
    before = np.maximum(line - 1, 0)
    line = np.minimum(line, grid.bars)
    nearest = np.where(tick - grid.start[before] < grid.start[line] - tick, before, line)
    length = np.diff(grid.start)[np.minimum(nearest, grid.bars - 1)]
    near = np.abs(grid.start[nearest] - tick) * 8 <= length
    found: dict[int, str] = {}
    for bar, (_, text), ok in zip(nearest.tolist(), texts, near.tolist(), strict=True):
        if ok and bar < grid.bars:
            found.setdefault(bar, text)
    if len(found) == 1 and min(found) <= first:
        return {}  # a title, not a section
    close = np.diff(sorted(found)) < MARKERS_APART
    if near.mean() < 0.5 or (len(close) and close.mean() > 0.5):
        return {}
    return found


def divide(bars: Bars, song_bars: int, marked: dict[int, str] | None = None) -> Phrases:
    """Divide described bars; ``marked``: rows where a marker stands, with its text."""
    marked = marked or {}
    alike = Likeness.of(bars, ("lead", *_BACKING))
    chance, score, support = _chances(bars, alike, sorted(marked))
    chance[list(marked)] = MARKED
    chance[0] = 1.0  # the first sounding bar is a fact
    begin = _choose(chance, score, bars.struck, marked)
    end = np.append(begin[1:], len(bars))
    whole = np.zeros(song_bars + 1)
    whole[bars.first : bars.first + len(bars)] = chance
    whole[bars.first + len(bars)] = 1.0  # so is the line after the last
    return Phrases(
        begin + bars.first,
        end + bars.first,
        _labels(bars, alike, begin, end, marked),
        _reasons(bars, begin, support, marked),
        chance[begin],
        whole,
    )


def _chances(bars: Bars, all_roles: Likeness, marked: list[int]) -> tuple[Floats, Floats, Floats]:
    """Weigh all phrases.

    Gives the probability of a phrase start at each bar [n], the scores of phrases [n, longest], and
    what its repeats add to a start's score [n].
    """
    stretches = []
    scores = []
    backing = Likeness.of(bars, _BACKING)
    count = -(-len(bars) // STRETCH)  # of stretches of one size, or nearly
    for k in range(count):
        begin, end = k * len(bars) // count, (k + 1) * len(bars) // count
        alike = all_roles.matrix(begin, end)
        starts = cues.starts(bars, begin, alike)
        scores.append(starts[:, None] + cues.phrases(bars, begin, alike))
        stretches.append((begin, cues.repeats(alike), cues.repeats(backing.matrix(begin, end))))
    score = np.concatenate(scores)
    score[0] -= score[0].max()  # the first bar begins a phrase whatever its cues say
    score[bars.struck + 1 :] += _NEVER  # what only rings on begins nothing
    for bar in marked:
        for begin in range(max(bar - cues.LONGEST + 1, 0), bar):
            score[begin, bar - begin :] += _NEVER
    chance = start_probability(score)
    support = np.zeros(len(bars))
    for begin, same, same_backing in stretches:
        rows = slice(begin, begin + len(same))
        support[rows] = cues.TWINS * cues.twins(same, chance[rows])
        support[rows] += cues.TWINS_BACKING * cues.twins(same_backing, chance[rows])
    score = score + support[:, None]
    chance = start_probability(score)
    chance[bars.struck + 1 :] = 0.0
    # rounded: equal bars must not differ in the last digits of a sum
    return np.round(chance, 9), score, support


def _choose(
    chance: Floats, score: Floats, struck: int, marked: dict[int, str]
) -> NDArray[np.int64]:
    """Rows where phrases begin: the markers, and between them what is likely enough.

    Where nothing is for longer than a phrase can be, the best division stands in: its starts have
    the little certainty that they have.
    """
    fixed = sorted({0, *marked})
    rows: list[int] = []
    for begin, end in zip(fixed, [*fixed[1:], len(chance)], strict=True):
        rows += [begin + row for row in pick_starts(chance[begin:end], LEAST, APART)]
    last = min(struck + cues.LONGEST, len(chance))  # what rings on longer belongs to the last
    result: list[int] = []
    for begin, end in zip(rows, [*rows[1:], last], strict=True):
        long = end - begin > cues.LONGEST
        inner = best_division(score[begin:end]) if long else [0]
        result += [begin + row for row in inner]
    return np.array(result, dtype=np.int64)


def _labels(
    bars: Bars,
    alike: Likeness,
    begin: NDArray[np.int64],
    end: NDArray[np.int64],
    marked: dict[int, str],
) -> tuple[str, ...]:
    """Name the phrases, see `Phrases.label`."""
    labels: list[str] = []
    heads: list[tuple[int, int, str]] = []  # the first phrase of each letter
    played = np.flatnonzero(bars.lead) if bars.lead is not None else np.zeros(0, dtype=np.int64)
    section = ""
    for start, stop in zip(begin.tolist(), end.tolist(), strict=True):
        section = marked.get(start, section)
        if section:
            labels.append(section)
        elif len(played) and start == 0 and stop <= played[0]:
            labels.append("intro")
        elif len(played) and stop == len(bars) and start > played[-1]:
            labels.append("outro")
        else:
            labels.append(_letter(alike, start, stop, heads))
    return tuple(labels)


def _letter(alike: Likeness, start: int, stop: int, heads: list[tuple[int, int, str]]) -> str:
    """The letter of the most similar phrase so far, or a new one."""
    near: list[tuple[int, str]] = []  # bars in common with a head, and its letter
    mine: list[int] = []
    theirs: list[int] = []
    for head_start, head_stop, letter in heads[-_MOST_HEADS:]:
        size = min(stop - start, head_stop - head_start)
        if 2 * size >= max(stop - start, head_stop - head_start):
            near.append((size, letter))
            mine += range(start, start + size)
            theirs += range(head_start, head_start + size)
    if near:
        size_of = np.array([size for size, _ in near])
        pairs = alike.pairs(np.array(mine), np.array(theirs))
        same = np.add.reduceat(pairs, np.cumsum(size_of) - size_of) / size_of
        best = int(same.argmax())
        if same[best] > SAME:
            return near[best][1]
    number = len(heads)
    name = chr(ord("A") + number % 26) + (str(number // 26 + 1) if number >= 26 else "")
    heads.append((start, stop, name))
    return name


def _reasons(
    bars: Bars, begin: NDArray[np.int64], support: Floats, marked: dict[int, str]
) -> tuple[str, ...]:
    """The plainest thing that tells each start, see `Phrases.why`."""
    playing = bars.backing if bars.lead is None else np.column_stack((bars.lead, bars.backing))
    enters = np.zeros(len(bars), dtype=bool)
    enters[0] = True
    enters[1:] = (playing[1:] != playing[:-1]).any(axis=1)
    usual_gap = float(np.median(bars.gap))
    reasons: list[str] = []
    for row in begin.tolist():
        if row in marked:
            reasons.append("marker")
        elif enters[row]:
            reasons.append("entry")
        elif support[row] > 1.0:  # repeats make the start e times as likely as it was
            reasons.append("repetition")
        elif bars.gap[row] > max(usual_gap, 0.25):
            reasons.append("rest")
        else:
            reasons.append("grid")
    return tuple(reasons)
