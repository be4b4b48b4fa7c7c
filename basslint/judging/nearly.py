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
from basslint.rulebook.model import Rule
from basslint.util.records import record

LOOSENED = 0.2  # share of a number: a fifth is near enough to be heard as the same thing


@record(kw_only=True)
class Near:
    """A place at which a rule is silent: what it would say there, if its number ``name`` were
    ``loose`` and not ``stated``."""

    finding: Finding
    name: str
    stated: float
    loose: float
    unit: str


def nearly(chart: Chart, rule: Rule, found: Sequence[Finding]) -> tuple[Near, ...]:
    """The places that a rule nearly names, in order. ``found``: what it says of the song as it is.

    A place that several numbers would let in is told by the first of the page.
    """
    told = {_place(f, w.tick) for f in found for w in f.places}
    near: list[Near] = []
    for name, stated, loose, unit in _loosened(rule):
        try:
            looser = rule.with_numbers({name: loose})
        except RuleError:  # numbers that only make sense together
            continue
        for finding in judge(chart, (looser,)).findings:
            places = {_place(finding, w.tick) for w in finding.places}
            if places & told:
                continue
            told |= places
            near.append(Near(finding=finding, name=name, stated=stated, loose=loose, unit=unit))
    return tuple(sorted(near, key=lambda n: (n.finding.where.tick, n.name)))


def _loosened(rule: Rule) -> Iterator[tuple[str, float, float, str]]:
    """Each number of a page a fifth lower and a fifth higher: one of the two lets more in."""
    for parameter in rule.parameters:
        for factor in (1 - LOOSENED, 1 + LOOSENED):
            if parameter.default:
                loose = round(parameter.default * factor, 6)
                yield parameter.name, parameter.default, loose, parameter.unit


def _place(finding: Finding, tick: int) -> tuple[int, int]:
    return finding.part.number if finding.part is not None else 0, tick
