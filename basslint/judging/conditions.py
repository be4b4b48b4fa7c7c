"""On which rows are the conditions of a rule met?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.readings.base import Column
from basslint.readings.columns import Columns
from basslint.rulebook.model import NUMERIC, Condition, Rule


class Conditions:
    """Where the conditions of single cases of a rule are met, each asked once, however many cases
    have it, and of some ``rows`` alone: those that meet what all cases have."""

    def __init__(
        self,
        rule: Rule,
        numbers: Mapping[str, float],
        columns: Columns,
        rows: NDArray[np.intp],
    ) -> None:
        self._subject, self._columns, self._numbers = rule.judges, columns, numbers
        self._masks: dict[Condition, NDArray[np.bool_]] = {}
        self._nowhere: set[Condition] = set()
        self.rows = rows

    def met(self, own: tuple[Condition, ...], left: NDArray[np.intp]) -> NDArray[np.intp]:
        """Which of the places ``left`` among the rows meet a case's own conditions."""
        if not self._nowhere.isdisjoint(own):
            return left[:0]
        for condition in own:
            if not len(left):
                break
            mask = self._masks.get(condition)
            if mask is None:
                mask = self._masks[condition] = self._mask(condition)
                if not np.count_nonzero(mask):
                    self._nowhere.add(condition)
                    return left[:0]
            left = left[mask[left]]
        return left

    def _mask(self, condition: Condition) -> NDArray[np.bool_]:
        column = self._columns.of_rows(self._subject, condition.reading, self.rows)
        return where_holds(condition, column, self._numbers)


def narrowed(
    conditions: tuple[Condition, ...],
    rows: NDArray[np.intp] | None,
    rule: Rule,
    numbers: Mapping[str, float],
    columns: Columns,
) -> NDArray[np.intp] | None:
    """Which of some rows of a rule meet conditions; None for all of them, so that nothing is
    gathered. No reading is asked once no row is left."""
    for condition in conditions:
        if rows is None:
            column = columns.column(rule.judges, condition.reading)
            rows = where_holds(condition, column, numbers).nonzero()[0]
        elif len(rows):
            column = columns.of_rows(rule.judges, condition.reading, rows)
            rows = rows[where_holds(condition, column, numbers)]
        else:
            break
    return rows


def where_holds(
    condition: Condition, column: Column, numbers: Mapping[str, float]
) -> NDArray[np.bool_]:
    """Where a condition holds. A value that cannot be told (NaN, None) fulfils none."""
    test, operand = condition.test, condition.operand
    mask: NDArray[np.bool_]
    if test in NUMERIC:
        measured = np.asarray(column, dtype=np.float64)
        least = numbers[str(operand[0])]
        if test == "above":
            mask = measured > least
        elif test == "below":
            mask = measured < least
        else:
            mask = (measured >= least) & (measured <= numbers[str(operand[1])])
        return mask
    if column.dtype.kind == "b" and test == "is" and type(operand[0]) is bool:
        return column if operand[0] else ~column  # it is its own mask
    mask = np.asarray(column == operand[0], dtype=bool)
    for value in operand[1:]:
        mask |= np.asarray(column == value, dtype=bool)
    if test != "not":
        return mask
    if column.dtype.kind == "f":
        return np.asarray(~mask & ~np.isnan(column))
    if column.dtype.kind == "O":
        return np.asarray(~mask & np.array([value is not None for value in column], dtype=bool))
    return ~mask
