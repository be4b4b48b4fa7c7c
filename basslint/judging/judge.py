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
from basslint.judging.conditions import Conditions, narrowed
from basslint.judging.hits import (
    Hit,
    as_said,
    hit_of,
    joined_rows,
    one_per_figure,
    without_echoes,
)
from basslint.judging.results import Finding, Unjudged
from basslint.readings.base import Rows
from basslint.readings.columns import Columns
from basslint.readings.needs import FACTS, Ground
from basslint.rulebook.model import LEVELS, Case, Condition, Rule
from basslint.util.columns import among
from basslint.util.records import record, replace
from basslint.util.stopped import stopped_by

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


def judge(chart: Chart, rules: Iterable[Rule], in_full: bool = True) -> Verdict:
    """Run rules over a chart.

    Not ``in_full``, only what is off: no evidence, no bars that were not judged, and a fix only
    where it decides which findings are told as one. That is what mending asks time and again.
    """
    columns = Columns(chart)
    hits: dict[str, list[Hit]] = {}
    unjudged: list[Unjudged] = []
    faults: list[str] = []
    book = tuple(rules)

    def fault(rule: Rule, error: Exception) -> None:
        if (stop := stopped_by(error)) is not None:
            raise stop
        faults.append(f"{rule.name} failed: {type(error).__name__}: {error}")

    for rule in book:
        try:
            found, not_judged = hits_and_gaps(rule, columns, in_full)
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
                findings_of[name] = _findings(columns, those, in_full)
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


def _findings(columns: Columns, hits: Sequence[Hit], in_full: bool) -> list[Finding]:
    """The findings of one rule's hits."""
    if not hits:
        return []
    from basslint.judging.messages import Told  # a clean song needs no words

    told, text = Told(columns, hits, in_full), hits[0].rule.per_part
    if text is None:
        return told.findings()
    from basslint.judging.together import joined_by_part

    return joined_by_part(told.findings(), lambda first: told.message(text, first))


def _without_findings(unjudged: Iterable[Unjudged], findings: Iterable[Finding]) -> list[Unjudged]:
    """What is left of bars that were not judged without those in which the rule spoke all the same,
    of another note: a report does not say both of one bar."""
    spoke: dict[str, set[int]] = {}
    for finding in findings:
        spoke.setdefault(finding.rule, set()).add(finding.where.bar)
    result: list[Unjudged] = []
    for entry in unjudged:
        begin = entry.start_bar
        said = spoke.get(entry.rule, ())
        for bar in sorted([b for b in said if entry.start_bar <= b < entry.end_bar]):
            if bar > begin:
                result.append(replace(entry, start_bar=begin, end_bar=bar))
            begin = bar + 1
        if begin < entry.end_bar:
            result.append(entry if begin == entry.start_bar else replace(entry, start_bar=begin))
    return result


def _part(finding: Finding) -> int:
    return finding.part.number if finding.part else 0


def hits_and_gaps(
    rule: Rule, columns: Columns, with_gaps: bool = True
) -> tuple[list[Hit], list[Unjudged]]:
    """What a rule flags, before others explain some of it away, and the bars that it could not
    judge, which take the longer to tell; none of these where they are not asked for."""
    chart = columns.chart
    if not chart.parts.bass and _of_basses(rule):
        reason = "no bass part was found; name it with --bass"
        return [], [Unjudged(rule.name, 1, chart.song.grid.bars + 1, reason)]
    rows = columns.rows(rule.judges)
    if not len(rows.tick):
        return [], []
    numbers = rule.numbers
    # what could not be flagged whatever is heard was judged, and nothing is heard for it
    speaks_of = narrowed(rule.cases.plain, None, rule, numbers, columns)
    if speaks_of is not None and not len(speaks_of):
        return [], []
    certainties, judged, not_judged = _judged(rule, rows, speaks_of, numbers, chart, with_gaps)
    meet = narrowed(rule.cases.heard, judged, rule, numbers, columns)
    if meet is None:
        meet = np.arange(len(rows))
    if not len(meet):
        return [], not_judged
    conditions = Conditions(rule, numbers, columns, meet)
    left = np.arange(len(meet))
    hits: list[Hit] = []
    for case, own in zip(rule.cases, rule.cases.own, strict=True):
        if not len(left):
            break
        taken = conditions.met(own, left)
        if not len(taken):
            continue
        left = left[~among(left, taken, len(meet))]
        takes = meet[taken]
        room = MOST_FINDINGS - len(hits)
        if len(takes) > room:  # bounds time and memory; so many are one fault of the whole file
            bars = chart.song.grid.bar_of(rows.tick[takes[room:]])
            not_judged.append(
                Unjudged(rule.name, int(bars.min()) + 1, int(bars.max()) + 2, _TOO_MANY)
            )
        hits += _hits_of(rule, case, columns, takes[:room], certainties)
    return one_per_figure(columns, rule, hits) if hits else hits, not_judged


def _hits_of(
    rule: Rule,
    case: Case,
    columns: Columns,
    takes: NDArray[np.intp],
    certainties: Sequence[NDArray[np.float64]],
) -> list[Hit]:
    """The hits of rows that a case takes; ``certainties``: of the facts that the rule needs."""
    certainty = np.ones(len(columns.rows(rule.judges)))
    for of_fact in certainties:
        certainty = np.minimum(certainty, of_fact)
    if case.sure is not None:
        of_case = columns.of_rows(rule.judges, case.sure, takes)
        certainty[takes] = np.minimum(certainty[takes], of_case)
    said = as_said(case, columns) if _of_basses(rule) else case
    return [
        hit_of(rule, said, columns, row, float(certainty[row]), more)
        for row, more in joined_rows(columns, rule, case, takes)
    ]


def _judged(
    rule: Rule,
    rows: Rows,
    speaks_of: NDArray[np.intp] | None,
    numbers: Mapping[str, float],
    chart: Chart,
    with_gaps: bool,
) -> tuple[list[NDArray[np.float64]], NDArray[np.intp] | None, list[Unjudged]]:
    """How sure each fact is that a rule needs, [n], in which of some rows (None: all) all are sure
    enough, and the bars in which they are not."""
    certainties: list[NDArray[np.float64]] = []
    judged = speaks_of
    not_judged: list[Unjudged] = []
    for name, least in rule.needs:
        if judged is not None and not len(judged):
            break  # whatever else is heard, no row is left of which it could be told
        fact = FACTS[name]
        ground = fact.ground(chart, rows, numbers)
        unsure = ground.certainty < (fact.least if least is None else least)
        at = unsure.nonzero()[0] if judged is None else judged[unsure[judged]]
        if len(at):
            judged = (~unsure).nonzero()[0] if judged is None else judged[~unsure[judged]]
            if with_gaps:
                not_judged += _bars_without(rule, chart, rows, at, ground)
        certainties.append(ground.certainty)
    return certainties, judged, not_judged


def _of_basses(rule: Rule) -> bool:
    """Does a rule speak of basses alone? Fills are those of basses and of drums."""
    if rule.judges == "fill":
        return all(_NO_DRUMS in case.conditions for case in rule.cases)
    return rule.judges in _OF_BASSES


def _bars_without(
    rule: Rule, chart: Chart, rows: Rows, unsure: NDArray[np.intp], ground: Ground
) -> list[Unjudged]:
    """Join rows that were not judged for one reason into stretches of bars."""
    reasons = [(row, why) for row in unsure.tolist() if (why := ground.reason(row))]
    if not reasons:
        return []
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
