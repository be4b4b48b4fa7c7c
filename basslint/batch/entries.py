"""Does an entry of the cache hold an outcome, every value of it of its kind?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from basslint.batch.job import Outcome, may_rest
from basslint.judging.results import Problem, Unjudged
from basslint.report.section import Entry, Section, Tally
from basslint.util.records import names_of

R = TypeVar("R")


def outcome_of(entry: object) -> Outcome:
    """An outcome from its JSON. Raises `TypeError`, `ValueError` or `KeyError` where it is none."""
    table = _table(entry)
    if set(table) != {"section", "used"}:
        raise ValueError("another shape")
    outcome = Outcome(_section(table["section"]), _each(_whole, table["used"]))
    if not may_rest(outcome):
        raise ValueError("no such outcome is kept")
    return outcome


def _section(value: object) -> Section:
    made = _record(Section, value)
    return Section(
        path=_text(made["path"]),
        text=_text(made["text"]),
        tally=Tally(**{k: _whole(v) for k, v in _record(Tally, made["tally"]).items()}),
        problem=None if made["problem"] is None else _problem(made["problem"]),
        faults=_each(_text, made["faults"]),
        unjudged=_each(_unjudged, made["unjudged"]),
        bars=_whole(made["bars"]),
        spoke=_each(_text, made["spoke"]),
        named=_each(_text, made["named"]),
        aside=_text(made["aside"]),
        entries=_each(_entry, made["entries"]),
        silent=_switch(made["silent"]),
        bassless=_whole(made["bassless"]),
        rootless=_text(made["rootless"]),
        alone=_switch(made["alone"]),
        strict=_text(made["strict"]),
        drawn=_switch(made["drawn"]),
        mendable=_switch(made["mendable"]),
    )


def _problem(value: object) -> Problem:
    made = _record(Problem, value)
    byte = None if made["byte"] is None else _whole(made["byte"])
    return Problem(_text(made["kind"]), _text(made["message"]), _text(made["advice"]), byte)


def _unjudged(value: object) -> Unjudged:
    made = _record(Unjudged, value)
    start, end = _whole(made["start_bar"]), _whole(made["end_bar"])
    return Unjudged(_text(made["rule"]), start, end, _text(made["reason"]))


def _entry(value: object) -> Entry:
    made = _record(Entry, value)
    return Entry(_whole(made["rank"]), _text(made["lead"]), _text(made["rest"]))


def _record(kind: type[Any], value: object) -> dict[str, object]:
    table = _table(value)
    if set(table) != set(names_of(kind)):
        raise ValueError("another shape")
    return table


def _table(value: object) -> dict[str, object]:
    if not isinstance(value, dict):
        raise TypeError("no object")
    return value


def _each(read: Callable[[object], R], value: object) -> tuple[R, ...]:
    if not isinstance(value, list):
        raise TypeError("no list")
    return tuple(read(v) for v in value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    return value


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError("no whole number")
    return value


def _switch(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError("neither yes nor no")
    return value
