"""Where would a rule speak, were one of its numbers a little less strict?

A place that a rule nearly names teaches where its line runs. Each number of the page is loosened by
itself and the song judged again, so that what is told is what the rule itself would say.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from basslint.errors import RuleError
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.readings.base import registered
from basslint.rulebook.model import Parameter, Rule
from basslint.util.records import record

LOOSENED = 0.2  # share of a number: a fifth is near enough to be heard as the same thing


@record(kw_only=True)
class Near:
    """A place at which a rule is silent: what it would say there, if its number ``name`` were
    ``loose`` and not ``stated``. ``measured``: what was measured against that number, None where
    the number bounds no reading."""

    finding: Finding
    name: str
    stated: float
    loose: float
    unit: str
    reason: str
    measured: Measured | None


@record(kw_only=True)
class Measured:
    """The ``value`` of a reading in a place, and on which side of the number it would have to lie
    (``test``: above, below, between). ``meaning``: what the reading asks, ``unit`` its unit."""

    reading: str
    meaning: str
    value: float
    unit: str
    test: str


def nearly(chart: Chart, rule: Rule, found: Sequence[Finding]) -> tuple[Near, ...]:
    """The places that a rule nearly names, in order. ``found``: what it says of the song as it is.

    A place that several numbers would let in is told by the first of the page.
    """
    seen = {_place(f, w.tick) for f in found for w in f.places}
    near: list[Near] = []
    for number, loose in _loosened(rule):
        try:
            looser = rule.with_numbers({number.name: loose})
        except RuleError:  # numbers that only make sense together
            continue
        for finding in judge(chart, (looser,)).findings:
            places = {_place(finding, w.tick) for w in finding.places}
            if places & seen:
                continue
            seen |= places
            near.append(
                Near(
                    finding=finding,
                    name=number.name,
                    stated=number.default,
                    loose=loose,
                    unit=number.unit,
                    reason=number.reason,
                    measured=_measured(rule, number, loose, finding),
                )
            )
    return tuple(sorted(near, key=lambda n: (n.finding.where.tick, n.name)))


def _measured(rule: Rule, number: Parameter, loose: float, finding: Finding) -> Measured | None:
    """What of a place lies between a number as stated and as loosened: that keeps the rule silent.

    Of several readings that the number bounds the one that does so; None where none does.
    """
    values = dict(finding.readings)
    known = registered(rule.judges)
    low, high = sorted((number.default, loose))
    for case in rule.cases:
        for condition in case.conditions:
            value = values.get(condition.reading)
            bounded = condition.test in ("above", "below", "between")
            if not bounded or number.name not in condition.operand:
                continue
            if isinstance(value, int | float) and low <= value <= high:
                reading = known[condition.reading]
                return Measured(
                    reading=condition.reading,
                    meaning=reading.meaning,
                    value=float(value),
                    unit=reading.unit,
                    test=condition.test,
                )
    return None


def _loosened(rule: Rule) -> Iterator[tuple[Parameter, float]]:
    """Each number of a page a fifth lower and a fifth higher: one of the two lets more in."""
    for parameter in rule.parameters:
        for factor in (1 - LOOSENED, 1 + LOOSENED):
            if parameter.default:
                yield parameter, round(parameter.default * factor, 6)


def _place(finding: Finding, tick: int) -> tuple[int, int]:
    return finding.part.number if finding.part is not None else 0, tick
