"""What does a page know of the notes that can be nudged on it?

Each place to which a note can be moved is judged when the page is written, by a check of the song
so moved; the page's script looks it up. That takes a check for each place, so it is bounded.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from basslint.audition.difference import difference
from basslint.audition.tones import bass_tones
from basslint.hear.chart import Chart
from basslint.mending.nudged import SEMITONES, SIXTEENTHS, note_of, nudges, speaks_from
from basslint.report.formats.page_song import change_of
from basslint.report.grouping import Group
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.records import record

MOST_FINDINGS = 6  # of one song
MOST_NOTES = 500_000  # that are judged in all for one song, over all places
_MOVED = ("bass-note", "slide")  # what a rule judges whose notes can be moved


@record
class Nudged:
    """``of``: for each group what the script reads of its note, None where it cannot be nudged;
    ``left_out``: how many could be and are not, for the bounds above."""

    of: tuple[dict[str, Any] | None, ...]
    left_out: int


def nudge_data(chart: Chart, groups: Sequence[Group], rules: Sequence[Rule]) -> Nudged:
    """The moves of the notes that findings are about, of the gravest ones where there are many.

    Of each: ``row`` of the note, ``from``: the chance of a slip from which its rule speaks (null
    where it goes by none), ``to``: rows of (semitones, sixteenths, what it is, chance of a slip,
    rules that speak of it as "level name", what changes of what is heard).
    """
    by_name = {rule.name: rule for rule in rules}
    asked = []
    for n, group in enumerate(groups):
        rule = by_name.get(group.first.rule)
        if rule is None or rule.judges not in _MOVED or group.first.waived is not None:
            continue
        note = note_of(chart, group.first)
        if note is not None:
            asked.append((LEVELS.index(group.first.level), n, note, rule))
    places = len(SEMITONES) * len(SIXTEENTHS)
    most = min(MOST_FINDINGS, MOST_NOTES // max(places * len(chart.song.notes), 1))
    of: list[dict[str, Any] | None] = [None] * len(groups)
    tones = bass_tones(chart, 0, int(chart.song.grid.start[-1])) if asked else []
    row_of = {id(tone): row for row, tone in enumerate(tones)}
    for _, n, note, rule in sorted(asked, key=lambda a: a[:2])[:most]:
        rows = [
            (
                nudge.semitones,
                nudge.sixteenths,
                nudge.kind,
                None if math.isnan(nudge.chance) else round(nudge.chance, 3),
                [f"{level} {name}" for name, level in nudge.spoken],
                change_of(chart, row_of, difference(chart, tones, nudge.chart)),
            )
            for nudge in nudges(chart, note, rules)
        ]
        of[n] = {"row": note, "from": speaks_from(rule), "to": rows}
    return Nudged(tuple(of), max(len(asked) - most, 0))
