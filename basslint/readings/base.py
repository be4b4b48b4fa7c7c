"""What may a rule ask? The registry of readings, and the subjects they belong to.

A reading is one documented function of the Chart that gives a whole column: one value per row of
its subject. Rules see nothing else, which is why a page from a stranger is safe to run.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings import in_turn, load, modules_of
from basslint.readings.subjects import SUBJECTS, Subject
from basslint.util.records import record

Column = NDArray[Any]  # bool, float64 (NaN where it cannot be told) or object (str); shape [rows]


@record(kw_only=True)
class Reading:
    """One question a rule may ask of every row of a subject.

    ``unit`` is a physical or musical unit, ``yes or no`` for booleans, ``text`` for names.
    ``source``: a publication or "common practice, no source". ``of_rows``: tells it of some
    rows alone; None where the whole column is told as soon.
    """

    name: str
    of: Subject
    unit: str
    source: str
    column: Callable[[Chart], Column]
    of_rows: OfRows | None = None

    @property
    def meaning(self) -> str:
        """One plain sentence: the first line of its function's docstring."""
        return str(self.column.__doc__).strip().split("\n", 1)[0]


OfRows = Callable[[Chart, NDArray[np.intp]], Column]
_REGISTRY: dict[Subject, dict[str, Reading]] = {s: {} for s in SUBJECTS}


def reading(
    of: Subject,
    *,
    unit: str,
    source: str = "common practice, no source",
    of_rows: OfRows | None = None,
) -> Callable[[Callable[[Chart], Column]], Callable[[Chart], Column]]:
    """Register a column function under its own name; its docstring's first line is its meaning."""

    def register(function: Callable[[Chart], Column]) -> Callable[[Chart], Column]:
        if not (function.__doc__ or "").strip():
            raise TypeError(f"reading {function.__name__} has no docstring")
        name = function.__name__
        if name in _REGISTRY[of]:
            raise TypeError(f"a {of} has two readings {name}")
        column = once_per_chart(function)
        _REGISTRY[of][name] = Reading(
            name=name, of=of, unit=unit, source=source, column=column, of_rows=of_rows
        )
        return column

    return register


def row_reading(
    of: Subject, *, unit: str, source: str = "common practice, no source"
) -> Callable[[OfRows], Callable[[Chart], Column]]:
    """Register a function that tells of some rows alone: words, or what takes long to hear, are
    asked of the few that a rule flags, and need not be made for all others of the song."""

    def register(function: OfRows) -> Callable[[Chart], Column]:
        @wraps(function)
        def column(chart: Chart) -> Column:
            return function(chart, np.arange(len(rows_of(chart, of))))

        return reading(of, unit=unit, source=source, of_rows=function)(column)

    return register


def registered(of: Subject) -> dict[str, Reading]:
    """The readings of a subject by name, those of this package and of loaded plug-ins."""
    load(of)
    return _REGISTRY[of]


def in_order(of: Subject) -> list[Reading]:
    """The same module by module, whichever was imported first; those of plug-ins come last."""
    place = {module: at for at, module in enumerate(modules_of(of))}
    return sorted(registered(of).values(), key=lambda r: place.get(r.column.__module__, len(place)))


def named(of: Subject, name: str) -> Reading:
    """A reading by its name. Modules are imported until one has it: most songs ask a few of them.

    Raises `KeyError` where none does.
    """
    known = _REGISTRY[of]
    if name not in known:
        for module in in_turn(of):
            import_module(module)
            if name in known:
                break
    return known[name]


@record(eq=False)
class Rows:
    """Where the rows of a subject stand, columns of shape [n].

    ``part`` int32 index into song.parts (−1: the whole song); ``tick``, ``end_tick`` int64;
    ``note`` int64 row of song.notes to point at (−1: none).
    """

    part: NDArray[np.int32]
    tick: NDArray[np.int64]
    end_tick: NDArray[np.int64]
    note: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.tick)


_NOWHERE = np.zeros(0, dtype=np.int64)
_NO_ROWS = Rows(np.zeros(0, dtype=np.int32), _NOWHERE, _NOWHERE, _NOWHERE)


def rows_of(chart: Chart, subject: Subject) -> Rows:
    """The rows that a rule on ``subject`` runs over."""
    if subject == "bass-note":
        bass = chart.bass
        return Rows(bass.part, bass.start, bass.end, chart.bass_rows)
    if subject == "note":
        notes = chart.pitched
        return Rows(notes.part, notes.start, notes.end, chart.pitched_rows)
    if subject == "slide":
        slides = chart.slides
        return Rows(slides.part, slides.start, slides.land, slides.note)
    if subject == "fill":
        fills = chart.fills
        first = np.array([rows[0] for rows in fills.notes], dtype=np.int64)
        return Rows(fills.part, fills.start, fills.end, first)
    if subject == "chord":
        found = chart.witnesses
        return _of_parts(np.full(len(found), -1), found.start, found.end)
    if subject == "lag":
        return _of_parts(chart.lags.part, chart.lags.start, chart.lags.end)
    if subject == "displacement":
        moved = chart.displacements
        return _of_parts(moved.part, moved.start, moved.end)
    if subject == "part-key":
        clash = chart.two_keys
        return _of_parts(clash.part, clash.start, clash.end)
    if subject == "high-part":
        high = chart.high_parts
        return _of_parts(high.part, high.start, high.end)
    if subject == "stretch":
        return _of_parts(chart.shifts.part, chart.shifts.start, chart.shifts.end)
    return Rows(
        np.full(1, -1, dtype=np.int32),
        np.zeros(1, dtype=np.int64),
        np.full(1, chart.song.end_tick, dtype=np.int64),
        np.full(1, -1, dtype=np.int64),
    )


def _of_parts(part: NDArray[np.int64], tick: NDArray[np.int64], end: NDArray[np.int64]) -> Rows:
    """Rows that point at no note."""
    if not len(tick):
        return _NO_ROWS
    return Rows(part.astype(np.int32), tick, end, np.full(len(tick), -1, dtype=np.int64))
