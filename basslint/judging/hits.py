"""Which rows does a rule flag, which are reported as one, and which echo another rule's?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.readings.columns import Columns
from basslint.rulebook.model import LEVELS, Case, Rule
from basslint.util.columns import distinct
from basslint.util.records import record, replace

# From this certainty of the part that carries the bass on it may be accused, unless another part is
# as likely the bass. With names and programs hidden .80 of labelled basses may be, and in .02 of
# songs another part, most of them playing its very notes (.986 and .006 with them shown;
# tests/bench/labelled_basses.py, 351 songs).
SURE_BASS = 0.6
_PASTED = ("slide", "fill")  # whose copies differ in what excuses them, each in its own bar
_DOUBTFUL = "It is not sure that this part is the bass: name the bass with --bass."
_TWO = "Part #{} is as likely the bass as this one: name the bass with --bass."


@record(kw_only=True)
class Hit:
    """A row that a case of a rule flags, beside rows of song.notes to tell causes from echoes.

    ``notes``: those it speaks of; ``explains``: those of which it explains other hits away. A slide
    speaks of both its notes, but explains only the one it lands on. ``more``: rows told with it as
    one finding.
    """

    rule: Rule
    case: Case
    row: int
    certainty: float
    notes: tuple[int, ...]
    explains: tuple[int, ...]
    more: tuple[int, ...] = ()

    @property
    def loud(self) -> bool:
        """Is it a warning or an error?"""
        return self.case.level != "note"


def joined_rows(
    columns: Columns, rule: Rule, case: Case, found: NDArray[np.intp]
) -> list[tuple[int, tuple[int, ...]]]:
    """Rows with those that are told with them as one: the longest speaks, the first of equals."""
    if case.as_one is None:
        return [(row, ()) for row in found.tolist()]
    rows, groups = columns.rows(rule.judges), columns.column(rule.judges, case.as_one)[found]
    length = rows.end_tick[found] - rows.tick[found]
    joined: list[tuple[int, tuple[int, ...]]] = []
    for group in distinct(groups):
        mine = found[groups == group]
        first = int(mine[np.argmax(length[groups == group])])
        joined.append((first, tuple(r for r in mine.tolist() if r != first)))
    return joined


def one_per_figure(columns: Columns, rule: Rule, hits: list[Hit]) -> list[Hit]:
    """Hits of slides and fills; copies of one figure that several cases flag are one hit.

    The case that flags most of them speaks for all, the loudest of equals: what excuses a copy or
    two does not excuse the figure, nor the other way round.
    """
    if rule.judges not in _PASTED:
        return hits
    groups: dict[tuple[object, ...], list[Hit]] = {}
    for hit in hits:
        name = hit.case.as_one
        value = None if name is None else columns.column(rule.judges, name)[hit.row]
        groups.setdefault((name, value, hit.row if name is None else -1), []).append(hit)
    return [those[0] if len(those) == 1 else _as_one(those) for those in groups.values()]


def _as_one(hits: Sequence[Hit]) -> Hit:
    """The hits of a figure as one."""
    lead = max(hits, key=lambda hit: (len(hit.more), -LEVELS.index(hit.case.level)))
    others = [hit for hit in hits if hit is not lead]
    return replace(
        lead,
        certainty=min(hit.certainty for hit in hits),
        notes=lead.notes + tuple(n for hit in others for n in hit.notes),
        explains=lead.explains + tuple(n for hit in others for n in hit.explains),
        more=lead.more + tuple(row for hit in others for row in (hit.row, *hit.more)),
    )


def as_said(case: Case, columns: Columns) -> Case:
    """The case as a rule of basses says it: as a note where another part may well be the bass."""
    parts = columns.chart.parts
    lead = parts.bass[0]
    sure = parts.certainty[lead] >= SURE_BASS
    if case.level == "note" or parts.stated[lead] or (sure and parts.rival < 0):
        return case
    doubt = _DOUBTFUL
    if parts.rival >= 0:
        doubt = _TWO.format(columns.chart.song.parts[parts.rival].number)
    return replace(case, level="note", message=f"{case.message} {doubt}")


def hit_of(
    rule: Rule, case: Case, columns: Columns, row: int, certainty: float, more: tuple[int, ...] = ()
) -> Hit:
    """The hit of a case of a rule on ``row``, told with the rows of ``more``."""
    chart, note = columns.chart, int(columns.rows(rule.judges).note[row])
    notes: tuple[int, ...] = (note,) if note >= 0 else ()
    if rule.judges == "slide":
        notes = (note, int(chart.slides.source_note[row]))
    elif rule.judges == "fill":
        notes = tuple(int(n) for n in chart.fills.notes[row])
    elif rule.judges == "displacement":
        notes = tuple(chart.bass_rows[chart.displacements.notes_of(row, chart.bass)].tolist())
    elif rule.judges in ("lag", "high-part"):
        mine = chart.bass.part == columns.rows(rule.judges).part[row]
        notes = tuple(chart.bass_rows[mine].tolist())
    elif rule.judges == "part-key":
        notes = tuple(chart.bass_rows[chart.two_keys.foreign[row]].tolist())
    elif rule.judges == "stretch":
        shifts = chart.shifts
        inside = (chart.bass.start >= shifts.start[row]) & (chart.bass.start < shifts.end[row])
        inside &= chart.bass.part == shifts.part[row]
        notes = tuple(chart.bass_rows[inside].tolist())
    explains = notes[:1] if rule.judges == "slide" else notes
    others = tuple(hit_of(rule, case, columns, r, certainty) for r in more)
    return Hit(
        rule=rule,
        case=case,
        row=row,
        certainty=certainty,
        notes=notes + tuple(n for hit in others for n in hit.notes),
        explains=explains + tuple(n for hit in others for n in hit.explains),
        more=more,
    )


def without_echoes(hits: Mapping[str, Sequence[Hit]]) -> dict[str, list[Hit]]:
    """Hits by rule, without those that another one on the same note explains (one cause, one).

    What is only noted explains no warning or error away: there the louder one speaks for both.
    """
    flagged: dict[str, dict[int, bool]] = {}  # by rule and note: is it more than a note of ours?
    for name, those in hits.items():
        loud = flagged[name] = {}
        for hit in those:
            loud.update((note, loud.get(note, False) or hit.loud) for note in hit.explains)
    spoken_for: set[tuple[str, int]] = set()
    kept: dict[str, list[Hit]] = {}
    for name, those in hits.items():
        kept[name] = []
        for hit in those:
            causes = [
                (other, note)
                for other in hit.rule.because
                for note in hit.notes
                if note in flagged.get(other, ())
            ]
            if hit.loud and not any(flagged[other][note] for other, note in causes):
                spoken_for.update(causes)
                causes = []
            if not causes:
                kept[name].append(hit)
    return {
        name: [
            hit
            for hit in those
            if not any((name, note) in spoken_for for note in hit.explains)  # none of these is loud
        ]
        for name, those in kept.items()
    }
