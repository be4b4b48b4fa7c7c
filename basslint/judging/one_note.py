"""Which rules speak of one note?

As `judge` says it, and far sooner: no words are made, and a rule is only run over the whole song
where it flags that note, to hear what explains it away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.judging.hits import without_echoes
from basslint.judging.judge import hits_and_gaps, where_holds
from basslint.readings.columns import Columns
from basslint.readings.needs import FACTS
from basslint.readings.subjects import Subject
from basslint.rulebook.model import Level, Rule
from basslint.util.columns import found_in

T = TypeVar("T")

_OF_NOTES: tuple[Subject, ...] = ("bass-note", "note", "slide", "fill")  # what points at a note


def spoken_of(chart: Chart, rules: Sequence[Rule], note: int) -> tuple[tuple[str, Level], ...]:
    """The rules that speak of a note, a row of song.notes, from where it begins, and their levels.

    A rule that fails itself says nothing here, as in a report.
    """
    columns = Columns(chart)
    alike = _alike(chart, note)
    flagging = [
        rule
        for rule in rules
        if rule.judges in _OF_NOTES and _unless_it_fails(lambda r: _flags(r, columns, alike), rule)
    ]
    if not flagging:
        return ()
    names = _heard_with(flagging, rules)
    hits = {}
    for rule in rules:
        if rule.name in names:
            found = _unless_it_fails(lambda r: hits_and_gaps(r, columns)[0], rule)
            if found is not None:
                hits[rule.name] = found
    kept = without_echoes(hits)
    told = [
        (rule.name, hit.case.level)
        for rule in flagging
        for hit in kept.get(rule.name, ())
        if any(_points_at(columns, rule, row, alike) for row in (hit.row, *hit.more))
    ]
    return tuple(dict.fromkeys(told))


def _unless_it_fails(ask: Callable[[Rule], T], rule: Rule) -> T | None:
    """What is asked of a rule, None where it fails itself: `judge` reports that as a fault."""
    try:
        return ask(rule)
    except BasslintError:
        raise
    except Exception:
        return None


def _heard_with(flagging: Sequence[Rule], rules: Sequence[Rule]) -> set[str]:
    """Names of the rules without which it cannot be told whether some are explained away: their
    causes, and those that a louder one speaks for."""
    names = {rule.name for rule in flagging}
    louder = [rule for rule in rules if names & set(rule.because)]
    with_them = [*flagging, *louder]
    return {r.name for r in with_them} | {cause for r in with_them for cause in r.because}


def _alike(chart: Chart, note: int) -> NDArray[np.intp]:
    """Rows of song.notes that begin with a note on the same key of its part, itself among them."""
    notes = chart.song.notes
    same = (notes.part == notes.part[note]) & (notes.pitch == notes.pitch[note])
    return np.flatnonzero(same & (notes.start == notes.start[note]))


def _points_at(columns: Columns, rule: Rule, row: int, notes: NDArray[np.intp]) -> bool:
    rows = columns.rows(rule.judges)
    return bool((rows.note[row] == notes).any()) and bool(
        rows.tick[row] == columns.chart.song.notes.start[notes[0]]
    )


def _flags(rule: Rule, columns: Columns, notes: NDArray[np.intp]) -> bool:
    """Does a rule flag a row that points at one of some notes, before anything explains it away?"""
    rows, numbers = columns.rows(rule.judges), rule.numbers
    mine = found_in(rows.note, tuple(notes.tolist()))
    mine &= rows.tick == columns.chart.song.notes.start[notes[0]]
    for row in np.flatnonzero(mine).tolist():
        here = slice(row, row + 1)
        if any(
            all(
                where_holds(c, columns.column(rule.judges, c.reading)[here], numbers)[0]
                for c in case.conditions
            )
            for case in rule.cases
        ) and all(_sure_enough(rule, columns, name, least, row) for name, least in rule.needs):
            return True
    return False


def _sure_enough(rule: Rule, columns: Columns, name: str, least: float | None, row: int) -> bool:
    fact = FACTS[name]
    ground = fact.ground(columns.chart, columns.rows(rule.judges), rule.numbers)
    return bool(ground.certainty[row] >= (fact.least if least is None else least))
