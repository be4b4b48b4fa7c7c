"""What is off in this song, by this book of rules, and what could not be judged?

One pass per rule: its conditions become masks over columns, its needs become certainties, and only
the rows that are left are turned into words. A rule that crashes is reported and does not stop
the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.judging.hits import (
    Hit,
    as_said,
    hit_of,
    joined_rows,
    one_per_figure,
    without_echoes,
)
from basslint.judging.results import Finding, Unjudged
from basslint.readings.base import Column, Rows
from basslint.readings.columns import Columns
from basslint.readings.needs import FACTS
from basslint.rulebook.model import LEVELS, Case, Condition, Rule
from basslint.util.columns import among
from basslint.util.records import record, replace

MOST_FINDINGS = 2_000  # of one rule in one file
# what only basses have
_OF_BASSES = ("bass-note", "slide", "stretch", "lag", "displacement", "part-key", "high-part")
_NO_DRUMS = Condition("of_drums", "is", (False,))
_TOO_MANY = f"the rule has found {MOST_FINDINGS:,} places before this; mend those first"


@record
class Verdict:
    """The findings in order of place, what was not judged, and rules that failed themselves."""

    findings: tuple[Finding, ...]
    unjudged: tuple[Unjudged, ...]
    faults: tuple[str, ...]


def judge(chart: Chart, rules: Iterable[Rule]) -> Verdict:
    """Run rules over a chart."""
    columns = Columns(chart)
    hits: dict[str, list[Hit]] = {}
    unjudged: list[Unjudged] = []
    faults: list[str] = []
    book = tuple(rules)

    def fault(rule: Rule, error: Exception) -> None:
        faults.append(f"{rule.name} failed: {type(error).__name__}: {error}")

    for rule in book:
        try:
            found, not_judged = hits_and_gaps(rule, columns)
        except (BasslintError, MemoryError):  # a stated part that does not exist; a limit
            raise
        except Exception as error:  # a rule's fault must not hide the others' findings
            fault(rule, error)
            continue
        if found:
            hits[rule.name] = found
        unjudged += not_judged
    findings_of: dict[str, list[Finding]] = {}
    while len(findings_of) < len(hits):
        kept = without_echoes(hits)
        try:
            for name, those in kept.items():
                findings_of[name] = _findings(columns, those)
        except (BasslintError, MemoryError):
            raise
        except Exception as error:  # nor may what it would have explained stay unsaid
            fault(hits.pop(name)[0].rule, error)
            findings_of.clear()
    findings = [finding for those in findings_of.values() for finding in those]
    findings.sort(
        key=lambda f: (f.where.tick, LEVELS.index(f.level), f.rule, _part(f), f.pitch or 0)
    )
    unjudged = _without_findings(unjudged, findings)
    unjudged.sort(key=lambda u: (u.rule, u.start_bar))
    return Verdict(_numbered(findings, chart), tuple(unjudged), tuple(faults))


def _numbered(findings: Sequence[Finding], chart: Chart) -> tuple[Finding, ...]:
    """Findings with what names them in other exports."""
    if not findings:
        return ()
    from basslint.judging.fingerprint import numbered

    return numbered(findings, chart.song.grid, chart.facts.middle_c)


def _findings(columns: Columns, hits: Sequence[Hit]) -> list[Finding]:
    """The findings of one rule's hits."""
    if not hits:
        return []
    from basslint.judging.messages import finding_of, message_of  # a clean song needs no words

    findings = [finding_of(columns, h.rule, h.case, h.row, h.certainty, h.more) for h in hits]
    rule, text = hits[0].rule, hits[0].rule.per_part
    if text is None:
        return findings
    from basslint.judging.together import joined_by_part

    return joined_by_part(findings, lambda i: message_of(columns, rule, text, hits[i].row))


def _without_findings(unjudged: Iterable[Unjudged], findings: Iterable[Finding]) -> list[Unjudged]:
    """What is left of bars that were not judged without those in which the rule spoke all the same,
    of another note: a report does not say both of one bar."""
    spoke: dict[str, set[int]] = {}
    for finding in findings:
        spoke.setdefault(finding.rule, set()).add(finding.where.bar)
    result: list[Unjudged] = []
    for entry in unjudged:
        begin = entry.start_bar
        said = spoke.get(entry.rule, set())
        for bar in sorted(b for b in said if entry.start_bar <= b < entry.end_bar):
            if bar > begin:
                result.append(replace(entry, start_bar=begin, end_bar=bar))
            begin = bar + 1
        if begin < entry.end_bar:
            result.append(replace(entry, start_bar=begin))
    return result


def _part(finding: Finding) -> int:
    return finding.part.number if finding.part else 0


def hits_and_gaps(
    rule: Rule, columns: Columns, with_gaps: bool = True
) -> tuple[list[Hit], list[Unjudged]]:
    """What a rule flags, before others explain some of it away, and the bars that it could not
    judge, which take the longer to tell; none of these where they are not asked for."""
    chart, of_basses = columns.chart, _of_basses(rule)
    if of_basses and not chart.parts.bass:
        reason = "no bass part was found; name it with --bass"
        return [], [Unjudged(rule.name, 1, chart.song.grid.bars + 1, reason)]
    rows = columns.rows(rule.judges)
    if not len(rows):
        return [], []
    certainty, left, not_judged = _judged(rule, rows, chart, with_gaps)
    conditions = _Conditions(rule, columns)
    hits: list[Hit] = []
    for case in rule.cases:
        takes = conditions.taken(case, left)
        if not len(takes):
            continue
        room = MOST_FINDINGS - len(hits)
        if len(takes) > room:  # bounds time and memory; so many are one fault of the whole file
            bars = chart.song.grid.bar_of(rows.tick[takes[room:]])
            not_judged.append(
                Unjudged(rule.name, int(bars.min()) + 1, int(bars.max()) + 2, _TOO_MANY)
            )
        sure = certainty
        if case.sure is not None:
            sure = np.minimum(certainty, columns.column(rule.judges, case.sure))
        said = as_said(case, columns) if of_basses else case
        hits += [
            hit_of(rule, said, columns, row, float(sure[row]), more)
            for row, more in joined_rows(columns, rule, case, takes[:room])
        ]
        left = left[~among(left, takes, len(rows))]
    return one_per_figure(columns, rule, hits) if hits else hits, not_judged


def _judged(
    rule: Rule, rows: Rows, chart: Chart, with_gaps: bool
) -> tuple[NDArray[np.float64], NDArray[np.intp], list[Unjudged]]:
    """How sure the facts are that a rule needs, [n], the rows of which they are sure enough, and
    the bars in which they are not."""
    certainty = np.ones(len(rows))
    judged = certainty > 0.0
    not_judged: list[Unjudged] = []
    for name, least in rule.needs:
        fact = FACTS[name]
        ground = fact.ground(chart, rows, rule.numbers)
        unsure = judged & (ground.certainty < (fact.least if least is None else least))
        at = unsure.nonzero()[0]
        if len(at):
            judged &= ~unsure
            reasons = [(row, why) for row in at.tolist() if (why := ground.reason(row))]
            if reasons and with_gaps:
                not_judged += _bars_without(rule, chart, rows, reasons)
        certainty = np.minimum(certainty, ground.certainty)
    return certainty, judged.nonzero()[0], not_judged


class _Conditions:
    """Where the conditions of a rule hold: its cases share most of them, so each is asked once."""

    def __init__(self, rule: Rule, columns: Columns) -> None:
        self._subject, self._columns, self._numbers = rule.judges, columns, rule.numbers
        self._masks: dict[Condition, NDArray[np.bool_]] = {}
        self._nowhere: set[Condition] = set()

    def taken(self, case: Case, left: NDArray[np.intp]) -> NDArray[np.intp]:
        """Which of the rows ``left`` a case takes. No reading is asked once none is left of them,
        or where a condition is known to hold nowhere."""
        if not self._nowhere.isdisjoint(case.conditions):
            return left[:0]
        for condition in case.conditions:
            if not len(left):
                break
            mask = self._masks.get(condition)
            if mask is None:
                mask = self._mask(condition)
            left = left[mask[left]]
        return left

    def _mask(self, condition: Condition) -> NDArray[np.bool_]:
        column = self._columns.column(self._subject, condition.reading)
        mask = self._masks[condition] = where_holds(condition, column, self._numbers)
        if not mask[mask.argmax()]:
            self._nowhere.add(condition)
        return mask


def _of_basses(rule: Rule) -> bool:
    """Does a rule speak of basses alone? Fills are those of basses and of drums."""
    if rule.judges == "fill":
        return all(_NO_DRUMS in case.conditions for case in rule.cases)
    return rule.judges in _OF_BASSES


def where_holds(
    condition: Condition, column: Column, numbers: Mapping[str, float]
) -> NDArray[np.bool_]:
    """Where a condition holds. A value that cannot be told (NaN, None) fulfils none."""
    operand = condition.operand
    if condition.test in ("above", "below", "between"):
        bounds = [numbers[str(name)] for name in operand]
        measured = np.asarray(column, dtype=np.float64)
        if condition.test == "above":
            return np.asarray(measured > bounds[0])
        if condition.test == "below":
            return np.asarray(measured < bounds[0])
        return np.asarray((measured >= bounds[0]) & (measured <= bounds[1]))
    same = np.asarray(column == operand[0], dtype=bool)
    for value in operand[1:]:
        same |= np.asarray(column == value, dtype=bool)
    if condition.test != "not":
        return same
    if column.dtype.kind == "f":
        return np.asarray(~same & ~np.isnan(column))
    if column.dtype.kind == "O":
        return np.asarray(~same & np.array([value is not None for value in column], dtype=bool))
    return ~same


def _bars_without(
    rule: Rule, chart: Chart, rows: Rows, reasons: Sequence[tuple[int, str]]
) -> list[Unjudged]:
    """Join rows that were not judged for one reason into stretches of bars."""
    at = np.array([row for row, _ in reasons], dtype=np.intp)
    grid, tick = chart.song.grid, rows.tick[at]
    first = grid.bar_of(tick).tolist()
    last = grid.bar_of(np.maximum(rows.end_tick[at] - 1, tick)).tolist()
    spans: dict[str, list[tuple[int, int]]] = {}
    for (_, reason), begin, end in zip(reasons, first, last, strict=True):
        spans.setdefault(reason, []).append((begin + 1, end + 2))
    result: list[Unjudged] = []
    for reason, stretches in spans.items():
        stretches.sort()
        begin, end = stretches[0]
        for a, b in stretches[1:]:
            if a > end:
                result.append(Unjudged(rule.name, begin, end, reason))
                begin, end = a, b
            end = max(end, b)
        result.append(Unjudged(rule.name, begin, end, reason))
    return result
