"""The readings of one chart, each asked once however many rules want it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, Rows, named, rows_of
from basslint.readings.subjects import Subject


class Columns:
    """The readings of one chart, each computed once however many rules ask for it."""

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self._rows: dict[Subject, Rows] = {}
        self._columns: dict[tuple[Subject, str], Column] = {}

    def rows(self, subject: Subject) -> Rows:
        """Where the rows of a subject stand."""
        rows = self._rows.get(subject)
        if rows is None:
            rows = self._rows[subject] = rows_of(self.chart, subject)
        return rows

    def column(self, subject: Subject, name: str) -> Column:
        """The column of a reading, checked to have one value per row."""
        key = (subject, name)
        column = self._columns.get(key)
        if column is None:
            column = np.asarray(named(subject, name).column(self.chart))
            if column.shape != self.rows(subject).tick.shape:
                raise ValueError(f"reading {name} gave {column.shape}, not one value per {subject}")
            self._columns[key] = column
        return column

    def of_rows(self, subject: Subject, name: str, rows: NDArray[np.intp]) -> Column:
        """What a reading tells of some rows, [n]; of these alone where that is the sooner told."""
        column = self._columns.get((subject, name))
        if column is not None:
            return column[rows]
        tell = named(subject, name).of_rows
        return self.column(subject, name)[rows] if tell is None else tell(self.chart, rows)
