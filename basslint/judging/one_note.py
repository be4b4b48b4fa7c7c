"""Which rules speak of one note?

As `judge` says it, and far sooner: no words are made, and a rule is only run over the whole song
where it flags that note, to hear what explains it away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.judging.conditions import where_holds
from basslint.judging.hits import without_echoes
from basslint.judging.judge import hits_and_gaps
from basslint.readings.columns import Columns
from basslint.readings.needs import FACTS
from basslint.readings.subjects import Subject
from basslint.rulebook.model import Condition, Level, Rule
from basslint.util.columns import found_in
from basslint.util.stopped import stopped_by

T = TypeVar("T")

_OF_NOTES: tuple[Subject, ...] = ("bass-note", "note", "slide", "fill")  # what points at a note


def spoken_of(chart: Chart, rules: Sequence[Rule], note: int) -> tuple[tuple[str, Level], ...]:
    """The rules that speak of a note, a row of song.notes, from where it begins, and their levels.

    ``rules``: the whole book, by which some is explained away. A rule that fails itself says
    nothing here, as in a report.
    """
    columns = Columns(chart)
    here = _Here(columns, note)
    flagging = [
        rule
        for rule in rules
        if rule.judges in _OF_NOTES and _unless_it_fails(here.flagged_by, rule)
    ]
    if not flagging:
        return ()
    names = _heard_with(flagging, rules)
    hits = {}
    for rule in rules:
        if rule.name in names:
            found = _unless_it_fails(lambda r: hits_and_gaps(r, columns, with_gaps=False)[0], rule)
            if found is not None:
                hits[rule.name] = found
    kept = without_echoes(hits)
    spoken = [
        (rule.name, hit.case.level)
        for rule in flagging
        for hit in kept.get(rule.name, ())
        if not here.rows(rule.judges).isdisjoint((hit.row, *hit.more))
    ]
    return tuple(dict.fromkeys(spoken))


def _unless_it_fails(ask: Callable[[Rule], T], rule: Rule) -> T | None:
    """What is asked of a rule, None where it fails itself: `judge` reports that as a fault."""
    try:
        return ask(rule)
    except BasslintError:
        raise
    except Exception as error:
        if (stop := stopped_by(error)) is not None:
            raise stop from None
        return None


def _heard_with(flagging: Sequence[Rule], rules: Sequence[Rule]) -> set[str]:
    """Names of the rules without which it cannot be told whether some are explained away: their
    causes, and those that a louder one speaks for."""
    names = {rule.name for rule in flagging}
    louder = [rule for rule in rules if names & set(rule.because)]
    with_them = [*flagging, *louder]
    return {r.name for r in with_them} | {cause for r in with_them for cause in r.because}


class _Here:
    """What stands where a note begins, on its key and in its part."""

    def __init__(self, columns: Columns, note: int) -> None:
        self._columns = columns
        notes = columns.chart.song.notes
        same = (notes.part == notes.part[note]) & (notes.pitch == notes.pitch[note])
        self._start = int(notes.start[note])
        self._notes = tuple(np.flatnonzero(same & (notes.start == self._start)).tolist())
        self._rows: dict[Subject, frozenset[int]] = {}

    def rows(self, subject: Subject) -> frozenset[int]:
        """The rows of a subject that point at the note, or at one struck with it on its key."""
        if subject not in self._rows:
            rows = self._columns.rows(subject)
            mine = found_in(rows.note, self._notes) & (rows.tick == self._start)
            self._rows[subject] = frozenset(np.flatnonzero(mine).tolist())
        return self._rows[subject]

    def flagged_by(self, rule: Rule) -> bool:
        """Does a rule flag one of these rows, before anything explains it away?"""
        for row in sorted(self.rows(rule.judges)):
            met = _Met(self._columns, rule, row)
            if any(all(map(met, case.conditions)) for case in rule.cases) and all(
                _sure_enough(rule, self._columns, name, least, row) for name, least in rule.needs
            ):
                return True
        return False


class _Met:
    """Are conditions of a rule met in a row? Its cases share most of them: each is asked once."""

    def __init__(self, columns: Columns, rule: Rule, row: int) -> None:
        self._columns, self._rule, self._here = columns, rule, np.array([row])
        self._known: dict[Condition, bool] = {}

    def __call__(self, condition: Condition) -> bool:
        known = self._known.get(condition)
        if known is None:
            rule = self._rule
            column = self._columns.of_rows(rule.judges, condition.reading, self._here)
            known = bool(where_holds(condition, column, rule.numbers)[0])
            self._known[condition] = known
        return known


def _sure_enough(rule: Rule, columns: Columns, name: str, least: float | None, row: int) -> bool:
    fact = FACTS[name]
    ground = fact.ground(columns.chart, columns.rows(rule.judges), rule.numbers)
    return bool(ground.certainty[row] >= (fact.least if least is None else least))
