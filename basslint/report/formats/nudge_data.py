"""What does a page know of the notes that can be nudged on it?

Each place to which a note can be moved is judged when the page is written, by the rules that may
speak of it there; the page's script looks it up. Each place takes its time, so all are bounded.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from basslint.audition.difference import around, difference
from basslint.audition.tones import bass_tones
from basslint.hear.chart import Chart
from basslint.mending.nudged import COMBINED, KINDS, STRAIGHT, note_of, nudge_to, speaks_from
from basslint.report.formats.page_song import change_of
from basslint.report.grouping import Group
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.records import record

MOST_FINDINGS = 6  # of one song
# Work for one song, counted in notes that are heard: a place costs as much as some 3,000 of them
# before its first note, and a quarter that the song lasts, silent or not, as much as nine (roots,
# phrases; measured on songs of a few notes and 300 bars). All in all that is about half a second.
MOST_WORK, PLACE_WORK, QUARTER_WORK = 180_000, 3_000, 9
_MOVED = ("bass-note", "slide")  # what a rule judges whose notes can be moved


@record
class Nudged:
    """``of``: for each group what the script reads of its note, None where it cannot be nudged;
    ``left_out``: how many could be and are not, for the bounds above or as it was not asked."""

    of: tuple[dict[str, Any] | None, ...]
    left_out: int


def nudge_data(
    chart: Chart, groups: Sequence[Group], rules: Sequence[Rule], wanted: bool = True
) -> Nudged:
    """The moves of the notes that findings are about, of the gravest ones where there are many, of
    none where they are not ``wanted``.

    Of each: ``row`` of the note, ``from``: the chance of a slip from which its rule speaks (null
    where it goes by none), ``said``: what is said in any place, as "level name", ``to``: rows of
    (semitones, sixteenths, what it is as an index into `KINDS`, chance of a slip, indexes into
    ``said``, tones of the bass that are gone, tones that come).
    """
    by_name = {rule.name: rule for rule in rules}
    movable = [
        (LEVELS.index(group.first.level), n, by_name[group.first.rule])
        for n, group in enumerate(groups)
        if group.first.waived is None
        and group.first.rule in by_name
        and by_name[group.first.rule].judges in _MOVED
    ]
    if not wanted:
        return Nudged((None,) * len(groups), len(movable))
    asked = [
        (level, n, note, rule)
        for level, n, rule in movable
        if (note := note_of(chart, groups[n].first)) is not None
    ]
    asked.sort(key=lambda a: a[:2])
    song = chart.song
    quarters = int(song.grid.start[-1]) // song.division
    moves = _within_bounds(len(asked), len(song.notes) + QUARTER_WORK * quarters)
    of: list[dict[str, Any] | None] = [None] * len(groups)
    tones = bass_tones(chart, 0, int(chart.song.grid.start[-1])) if asked else []
    row_of = {id(tone): row for row, tone in enumerate(tones)}
    for (_, n, note, rule), those in zip(asked, moves, strict=False):
        notes, said = chart.song.notes, dict[str, int]()
        near = around(chart, int(notes.start[note]), int(notes.end[note]))
        rows = []
        for move in those:
            nudge = nudge_to(chart, note, *move, rules)
            if nudge is None:
                continue
            spoken = [f"{level} {name}" for name, level in nudge.spoken]
            change = difference(chart, tones, nudge.chart, [near], False)  # of the bass alone
            told = change_of(chart, row_of, change)
            rows.append(
                (
                    *move,
                    KINDS.index(nudge.kind),
                    None if math.isnan(nudge.chance) else round(nudge.chance, 3),
                    [said.setdefault(each, len(said)) for each in spoken],
                    told["lost"],
                    told["gained"],
                )
            )
        of[n] = {"row": note, "from": speaks_from(rule), "said": list(said), "to": rows}
    return Nudged(tuple(of), len(asked) - len(moves))


def _within_bounds(findings: int, heard: int) -> list[tuple[tuple[int, int], ...]]:
    """The moves that are judged of each finding's note, for as many of them as there is time for,
    where each place has as much to hear as ``heard`` notes.

    Semitones alone and sixteenths alone come first, for all findings; what combines them follows,
    for the gravest ones.
    """
    places = MOST_WORK // (PLACE_WORK + heard)
    most = min(findings, MOST_FINDINGS, places // len(STRAIGHT))
    wide = min(most, (places - most * len(STRAIGHT)) // len(COMBINED))
    return [(*STRAIGHT, *COMBINED) if n < wide else STRAIGHT for n in range(most)]
