"""Where the harmony is stated and heard as well: do the two agree?"""

from __future__ import annotations

from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import LOOP, STATED
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.theory.chords import SUFFIXES

_WITNESS = {STATED: "Stated", LOOP: "The loop sounds"}
_APART = (
    *("the same root", "a semitone", "a whole tone", "a minor third", "a major third"),
    *("a fourth", "a tritone"),
)


@reading("chord", unit="yes or no")
def witnesses_differ(chart: Chart) -> Column:
    """Do the roots differ that two sources name here, and the notes of their chords as well?"""
    return chart.witnesses.differ


@reading("chord", unit="semitones")
def roots_apart(chart: Chart) -> Column:
    """How far the two roots lie apart, octaves taken off, the shorter way round: 0 to 6."""
    return chart.witnesses.apart.astype(float)


@reading("chord", unit="text")
def apart_in_words(chart: Chart) -> Column:
    """How far the two roots lie apart, in words, such as a semitone."""
    return words([_APART[apart] for apart in chart.witnesses.apart.tolist()])


@reading("chord", unit="text")
def first_witness(chart: Chart) -> Column:
    """Who names the chord that the bass is judged by: it is stated, or the loop sounds it."""
    sources = chart.outside_roots.source[chart.witnesses.first]
    return words([_WITNESS[s] for s in sources.tolist()])


@reading("chord", unit="text")
def stated_chord(chart: Chart) -> Column:
    """The chord that is stated or sampled, such as Bbm, or its root where only that is."""
    return _names(chart, stated=True)


@reading("chord", unit="text")
def heard_chord(chart: Chart) -> Column:
    """The chord that is heard, such as B; its root alone where the other has no more."""
    return _names(chart, stated=False)


@reading("chord", unit="text")
def heard_parts(chart: Chart) -> Column:
    """The parts that the other chord is heard in, such as Keys and Pad."""
    names = [chart.song.parts[i].name for i in chart.parts.harmony]
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return words([listed] * len(chart.witnesses))


def _names(chart: Chart, stated: bool) -> Column:
    found = chart.witnesses
    roots = chart.outside_roots if stated else chart.heard_roots
    texts = []
    for row, other in zip(
        (found.first if stated else found.second).tolist(), found.first.tolist(), strict=True
    ):
        spelled = chart.spelling_at(int(roots.start[row]))
        bare = bool(chart.outside_roots.bare[other])
        suffix = "" if bare else SUFFIXES.get(roots.quality_name(row), "")
        texts.append(f"{spelled[int(roots.root[row])]}{suffix}")
    return words(texts)
