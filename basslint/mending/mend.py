"""Which findings can be mended, what does the file look like then, and what stands?

A round picks the fixes that were asked for, sets aside those that touch the same event, writes the
rest and judges the result. A fix that leaves its finding standing, or brings about another that is
as grave, is undone. Rounds go on until one changes nothing, so that mending a mended file changes
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from basslint.errors import MendError
from basslint.judging.results import FileReport
from basslint.mending.account import Applied, Choice, Conflict, Left, MendResult
from basslint.mending.conflicts import part
from basslint.mending.turns import IN_A_CIRCLE, NOT_REACHED, Recheck, Turns
from basslint.mending.units import Reasons, Unit, reasons_of, units_of
from basslint.mending.verify import undone
from basslint.mending.writing import write_together
from basslint.util.records import field, record


@record(frozen=False, kw_only=True)
class _Round:
    """What one round did to ``before``: ``data`` and ``report`` are those after it, ``units`` the
    fixes that hold, ``why`` the reasons for findings of ``before`` that stand."""

    before: FileReport
    data: bytes
    report: FileReport
    units: list[Unit] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    why: Reasons = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)


def mend(
    raw: bytes, recheck: Recheck, choice: Choice | None = None, brief: Recheck | None = None
) -> MendResult:
    """Mend a file and judge it again, until nothing more is mended.

    ``recheck`` judges bytes in the way the user asked for, and so may ``brief``, which need not say
    how anything is mended; without ``choice`` the safe fixes are applied. Deterministic: the same
    bytes and the same choice give the same result. Raises `MendError` where the file cannot be
    read.
    """
    before = recheck(raw)
    problem = before.problem
    if problem is not None:
        at = "" if problem.byte is None else f" (At byte {problem.byte:,}.)"
        lead = "" if problem.is_misuse else f"{before.path} {problem.verdict}: "
        raise MendError(f"{lead}{problem.message}", problem.advice + at)
    assert before.chart is not None  # a readable file has one
    turns = Turns(recheck, brief, before.chart.song.grid, len(before.findings))
    applied: list[Applied] = []
    faults: dict[str, None] = {}  # in order, each once
    data, report = raw, before
    while True:  # ends: every round judges, and turns are limited
        done = _round(data, report, turns, choice or Choice())
        faults.update(dict.fromkeys(done.faults))
        if not done.units:
            left = tuple(Left(f, done.why[row]) for row, f in enumerate(report.findings))
            return MendResult(
                data=data,
                applied=tuple(applied),
                conflicts=tuple(done.conflicts),
                left=left,
                faults=tuple(faults),
                before=before,
                after=report,
            )
        applied += [
            Applied(report.findings[row], unit.fix) for unit in done.units for row in unit.findings
        ]
        data, report = done.data, done.report


def _round(data: bytes, report: FileReport, turns: Turns, choice: Choice) -> _Round:
    assert report.chart is not None  # a readable file has one
    result = _Round(before=report, data=data, report=report)
    turns.stood.add(data)
    units, reasons = units_of(report.chart.song, report.findings, choice)
    parted = part(units, report.findings)
    result.why = reasons | parted.why
    result.conflicts = [_conflict(report, group) for group in parted.conflicting]
    for lot in (parted.free, parted.waiting):
        if not result.units:  # where anything is mended, what waits is judged anew
            _try(lot, turns, result)
    return result


def _conflict(report: FileReport, group: Iterable[Unit]) -> Conflict:
    return Conflict(tuple(report.findings[row] for unit in group for row in unit.findings))


def _try(units: list[Unit], turns: Turns, result: _Round) -> None:
    """Write and judge again without each fix that does harm, until the rest hold."""
    before, data = result.before, result.data
    assert before.chart is not None
    song = before.chart.song
    again = False
    while units:
        written = write_together(data, song, units, turns.writes, again)
        units, turns.writes = written.units, written.writes
        result.why.update(written.refused)
        if not units:
            break
        after = turns.report(written.data)
        if after is None:
            result.why.update(reasons_of(units, NOT_REACHED))
            break
        bad = undone(units, before, after)
        if not bad and written.data in turns.stood:
            result.why.update(reasons_of(units, IN_A_CIRCLE))
            break
        if not bad:
            result.data, result.units = written.data, units
            result.report = turns.in_full(written.data, after)
            break
        again = True
        for row, why in bad.items():
            result.faults.append(f"“{units[row].fix.title}” was undone: {why}")
            result.why.update(reasons_of([units[row]], f"its fix was undone: {why}"))
        units = [unit for row, unit in enumerate(units) if row not in bad]
