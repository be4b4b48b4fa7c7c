"""Does a bass else turn as it does here: a boogie's sixth, a riff, the way into the next chord?

What a line does again on other tones or under other chords it does on purpose. Counted are the
different tones or roots but for a note's own, so that a slip pasted with its loop makes no habit of
itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.approach import linked
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place, felt_beats, part_by_part
from basslint.readings.recurrence import root_of_chord, tones
from basslint.util.columns import distinct, ends_of, found_in, turns
from basslint.util.records import record

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

_OCTAVE = 12  # semitones
_NONE = 12  # stands for the way from or to no note, and for no root
_REST = 2.0  # felt beats: across a longer rest no turn is heard
_PLACES = 2  # places in a quarter: a hand plays no finer, and a swung eighth stays where it is
_MOST_PLACES = 512  # eighths of a bar that are told apart; longer bars share the last one


@record(eq=False, kw_only=True)
class _Line:
    """The bass part by part in order of time, columns [m].

    ``order``: rows of the bass; ``tone``, ``place`` (eighth of the bar), ``root`` (12 where none is
    told); ``from_`` and ``to``: semitones up from the tone before and to the one after, 12 where a
    rest or nothing stands there; ``place_key``: a number for part and place.
    """

    order: NDArray[np.intp]
    tone: Ints
    root: Ints
    from_: Ints
    to: Ints
    place_key: Ints


@reading("bass-note", unit="tones", source="common practice, no source: motives and sequences")
def turns_alike(chart: Chart) -> Column:
    """On how many other tones its part turns as here, on its eighth of the bar.

    That is by the same semitones up or down from the tone before and to the tone after.
    A note between two of its own pitch class turns nowhere, nor does one without neighbours.
    """
    return tones_that_turn(chart, _all(chart))


@reading("bass-note", unit="roots", source="common practice: ostinato")
def riff_elsewhere(chart: Chart) -> Column:
    """Under how many other roots its part has this tone between the same two.

    On its eighth of the bar.
    """
    return roots_of_riff(chart, _all(chart))


@reading("bass-note", unit="roots", source="common practice: boogie and arpeggio")
def degree_elsewhere(chart: Chart) -> Column:
    """Under how many other roots its part stands as far above the root, on its eighth."""
    return roots_of_degree(chart, _all(chart))


def tones_that_turn(chart: Chart, counted: Mask) -> Column:
    """`turns_alike` where ``counted`` [m] says which notes make a habit."""
    line = _line(chart)
    key = (line.place_key * 13 + line.from_) * 13 + line.to
    stays = (line.from_ % _NONE == 0) & (line.to % _NONE == 0)  # on its tone, or no way
    return _back(line, np.where(stays, 0, _others(key, line.tone, _whole(line, counted))))


def roots_of_riff(chart: Chart, counted: Mask) -> Column:
    """`riff_elsewhere` where ``counted`` [m] says which notes make a habit."""
    line = _line(chart)
    key = ((line.place_key * 13 + line.from_) * 13 + line.to) * 12 + line.tone
    return _back(line, _others(key, line.root, _whole(line, counted)))


def roots_of_degree(chart: Chart, counted: Mask) -> Column:
    """`degree_elsewhere` where ``counted`` [m] says which notes make a habit."""
    line = _line(chart)
    above = (line.tone - line.root) % _OCTAVE
    known = line.root != _NONE
    others = _others(line.place_key * 12 + above, line.root, counted[line.order] & known)
    return _back(line, np.where(known, others, 0))


@once_per_chart
def _line(chart: Chart) -> _Line:
    bass, order = chart.bass, part_by_part(chart)
    tone, root = tones(chart)[order], root_of_chord(chart)[order]
    rest = _REST * felt_beats(chart)[order]
    way = np.where(linked(chart, order, rest), (tone[1:] - tone[:-1]) % _OCTAVE, _NONE)
    _, place = bar_and_place(chart, bass.start, _PLACES)
    key = bass.part.astype(np.int64) * _MOST_PLACES + np.minimum(place, _MOST_PLACES - 1)
    return _Line(
        order=order,
        tone=tone,
        root=np.where(root < 0, _NONE, root),
        from_=np.append(_NONE, way)[: len(order)],
        to=np.append(way, _NONE)[: len(order)],
        place_key=key[order],
    )


def _all(chart: Chart) -> Mask:
    return np.ones(len(chart.bass), dtype=bool)


def _whole(line: _Line, counted: Mask) -> Mask:
    """Notes that count together with the ones before and after them, in the order of the line."""
    mine = counted[line.order]
    whole = mine.copy()
    whole[1:] &= mine[:-1]
    whole[:-1] &= mine[1:]
    return whole


def _others(key: Ints, value: Ints, counted: Mask) -> Ints:
    """How many different values but its own each row's key has among the rows that count, [m].

    ``value``: 0 to 12.
    """
    both = key * 13 + value
    kinds_counted = distinct(both[counted])
    if not len(kinds_counted):
        return np.zeros(len(key), dtype=np.int64)
    kind = kinds_counted // 13
    first = turns(kind).nonzero()[0]
    kinds, count = kind[first], ends_of(first, len(kind)) - first
    at = np.minimum(np.searchsorted(kinds, key), len(kinds) - 1)
    return np.asarray(np.where(kinds[at] == key, count[at], 0) - found_in(both, kinds_counted))


def _back(line: _Line, value: Ints) -> Column:
    column = np.zeros(len(value))
    column[line.order] = value
    return column
