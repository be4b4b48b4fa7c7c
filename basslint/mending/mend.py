"""Which findings can be mended, what does the file look like then, and what stands?

A round picks the fixes that were asked for, sets aside those that touch the same event, writes the
rest and judges the result. A fix that leaves its finding standing, or brings about another that is
as grave, is undone. Rounds go on until one changes nothing, so that mending a mended file changes
nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from basslint.errors import MendError
from basslint.fixes.edits import Edit, Fix
from basslint.judging.results import FileReport, Finding
from basslint.mending.conflicts import part
from basslint.mending.locate import events_of
from basslint.mending.patch import Clash, keys_of, patch
from basslint.mending.verify import Unit, undone
from basslint.song.arrangement import Song
from basslint.song.timing import BarGrid

Recheck = Callable[[bytes], FileReport]

WAIVED = "it is waived"
NO_FIX = "no honest fix is known; mend it by hand"
BY_EAR = "its fix may change what was meant; --by-ear applies it"
NOT_CHOSEN = "its rule was not chosen"

# How often a song is judged, and written to see whether it can be, while it is mended. Of 929 real
# files none was judged or written more than 9 times, 676 bars and 1,760 findings were the most over
# all turns of one file, 2,464 findings over all writes. Two turns are had by every file.
MOST_TURNS, MOST_BARS, MOST_FINDINGS = 16, 6_000, 10_000
MOST_WRITES, MOST_WRITTEN = 36, 20_000
MOST_WRITES_IN_A_ROW = 12
NOT_REACHED = (
    "its fix was not tried to the end, since mending took too many turns; "
    "mend for this rule alone, or mend the copy again"
)


@dataclass(frozen=True, slots=True)
class Choice:
    """Which fixes to apply: safe ones, with ``by_ear`` the others too.

    ``only``: rule names to mend for (empty: all); ``leave``: rule names to leave alone.
    """

    by_ear: bool = False
    only: frozenset[str] = frozenset()
    leave: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Applied:
    """A finding that is mended, and how. Ticks are those of the file before its round."""

    finding: Finding
    fix: Fix


@dataclass(frozen=True, slots=True)
class Left:
    """A finding that stands in the mended file, and why."""

    finding: Finding
    why: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Findings whose fixes touch the same event; none of them was applied."""

    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MendResult:
    """The mended bytes and their account. ``faults``: fixes that were tried and undone, with
    the reason.

    ``before`` and ``after`` are the reports on the file as given and as mended.
    """

    data: bytes
    applied: tuple[Applied, ...]
    conflicts: tuple[Conflict, ...]
    left: tuple[Left, ...]
    faults: tuple[str, ...]
    before: FileReport
    after: FileReport


@dataclass(slots=True, kw_only=True)
class _Round:
    """What one round did. ``why``: reasons by the id of a finding of the round's first report."""

    data: bytes
    report: FileReport
    units: list[Unit]
    conflicts: list[Conflict]
    why: dict[int, str]
    faults: list[str]


def mend(raw: bytes, recheck: Recheck, choice: Choice = Choice()) -> MendResult:
    """Mend a file and judge it again, until nothing more is mended.

    ``recheck`` judges bytes in the way the user asked for. Deterministic: the same bytes and the
    same choice give the same result. Raises `MendError` where the file cannot be read.
    """
    before = recheck(raw)
    if before.problem is not None:
        byte = before.problem.byte
        at = "" if byte is None else f" (At byte {byte:,}.)"
        raise MendError(before.problem.message, before.problem.advice + at)
    assert before.chart is not None  # a readable file has one
    judge = _Judge(recheck, _length(before.chart.song.grid), len(before.findings))
    applied: list[Applied] = []
    faults: dict[str, None] = {}  # in order, each once
    data, report = raw, before
    while True:  # ends: every round judges, and the judge has a limit
        done = _round(data, report, judge, choice)
        faults.update(dict.fromkeys(done.faults))
        if not done.units:
            left = tuple(Left(f, done.why[id(f)]) for f in report.findings)
            return MendResult(
                data=data,
                applied=tuple(applied),
                conflicts=tuple(done.conflicts),
                left=left,
                faults=tuple(faults),
                before=before,
                after=report,
            )
        applied += [Applied(f, unit.fix) for unit in done.units for f in unit.findings]
        data, report = done.data, done.report


def _length(grid: BarGrid) -> int:
    """Bars; long ones count as often as four quarters go into them, which take as long to judge."""
    return max(grid.bars, int(grid.start[-1]) // (4 * grid.division))


class _Judge:
    """Judges the same bytes once, and not for ever.

    What one round gave up, the next one often asks about again.
    """

    def __init__(self, recheck: Recheck, bars: int, findings: int) -> None:
        self.recheck = recheck
        turns = min(MOST_TURNS, MOST_BARS // max(bars, 1), MOST_FINDINGS // max(findings, 1))
        self.turns = max(turns, 2) - 1  # one is behind us
        self.writes = max(min(MOST_WRITES, MOST_WRITTEN // max(findings, 1)), 2)
        self.seen: dict[bytes, FileReport] = {}

    def report(self, data: bytes) -> FileReport | None:
        """What is found in these bytes; None where the song was judged often enough."""
        seen = self.seen.get(data)
        if seen is not None:
            return seen
        if not self.turns:
            return None
        self.turns -= 1
        report = self.recheck(data)
        self.seen[data] = replace(report, chart=None)  # by far the largest part of a report
        return report


def _round(data: bytes, report: FileReport, judge: _Judge, choice: Choice) -> _Round:
    assert report.chart is not None  # a readable file has one
    result = _Round(data=data, report=report, units=[], conflicts=[], why={}, faults=[])
    parted = part(_units(report.chart.song, report.findings, choice, result))
    result.why.update(parted.why)
    result.conflicts += [
        Conflict(tuple(f for unit in group for f in unit.findings)) for group in parted.conflicting
    ]
    for units in (parted.free, parted.waiting):
        if not result.units:  # where anything is mended, what waits is judged anew
            _try(units, report, judge, result)
    return result


def _try(units: list[Unit], report: FileReport, judge: _Judge, result: _Round) -> None:
    """Write and judge, without what turns out to do harm, until some of the fixes hold."""
    assert report.chart is not None
    song, data = report.chart.song, result.data
    again = False
    while units:
        units, patched = _written(data, song, units, result, judge, again)
        if not units:
            break
        after = judge.report(patched)
        if after is None:
            result.why.update({id(f): NOT_REACHED for unit in units for f in unit.findings})
            break
        bad = undone(units, report, after)
        if not bad:
            result.data, result.units = patched, units
            result.report = after if after.chart is not None else judge.recheck(patched)
            break
        again = True
        for unit, why in bad:
            result.faults.append(f"“{unit.fix.title}” was undone: {why}")
            result.why.update({id(f): f"its fix was undone: {why}" for f in unit.findings})
        gone = {id(unit) for unit, _ in bad}
        units = [unit for unit in units if id(unit) not in gone]


def _units(song: Song, findings: Iterable[Finding], choice: Choice, result: _Round) -> list[Unit]:
    """The fixes that were asked for; for every other finding, the reason why not."""
    asked: dict[tuple[Edit, ...], list[Finding]] = {}
    for finding in findings:
        why = _why_not(finding, choice)
        if why:
            result.why[id(finding)] = why
        elif finding.fix is not None:
            asked.setdefault(finding.fix.edits, []).append(finding)
    units: list[Unit] = []
    for edits, those in asked.items():
        try:
            events = events_of(song, edits)
        except MendError as error:
            result.why.update({id(f): error.message for f in those})
            continue
        fix = those[0].fix
        assert fix is not None  # only findings with a fix were gathered
        start, end = _span(edits)
        voices = frozenset((e.track, e.channel) for e in edits)
        units.append(
            Unit(fix=fix, findings=tuple(those), events=events, voices=voices, start=start, end=end)
        )
    return units


def _why_not(finding: Finding, choice: Choice) -> str:
    if finding.waived is not None:
        return WAIVED
    if (choice.only and finding.rule not in choice.only) or finding.rule in choice.leave:
        return NOT_CHOSEN
    if finding.fix is None or not finding.fix.edits:
        return NO_FIX
    if finding.fix.kind == "by-ear" and not choice.by_ear:
        return BY_EAR
    return ""


def _span(edits: Iterable[Edit]) -> tuple[int, int]:
    """The stretch of ticks that edits touch, before and after."""
    ticks: list[int] = []
    for edit in edits:
        ticks += [edit.tick, edit.end_tick]
        if edit.after is not None and edit.do in ("start", "end", "move"):
            ticks.append(edit.after)
        if edit.after is not None and edit.do == "move":
            ticks.append(edit.after + edit.end_tick - edit.tick)
    return min(ticks), max(ticks)


def _edits(units: Iterable[Unit]) -> list[Edit]:
    return [edit for unit in units for edit in unit.fix.edits]


def _written(
    data: bytes, song: Song, units: list[Unit], result: _Round, judge: _Judge, again: bool
) -> tuple[list[Unit], bytes]:
    """Those of ``units`` that can be written together, and the bytes with them done.

    They are tried in ever smaller lots, those that clash last; ``again``, when they could be
    written before some were undone, those that clash now go with what was undone.
    """
    good: list[Unit] = []
    patched = data
    lots = [units]
    last = max(judge.writes - MOST_WRITES_IN_A_ROW, 0)
    while lots:
        lot = lots.pop()
        if judge.writes <= last:
            result.why.update({id(f): NOT_REACHED for unit in lot for f in unit.findings})
            continue
        judge.writes -= 1
        try:
            patched = patch(data, song, _edits([*good, *lot]))
        except MendError as error:
            clashing, others = _parted(lot, error)
            if again or not others:
                result.why.update({id(f): error.message for u in clashing for f in u.findings})
            else:
                lots.append(clashing)
            lots += [others] if others else []
        else:
            good += lot
    return good, patched


def _parted(lot: list[Unit], error: MendError) -> tuple[list[Unit], list[Unit]]:
    """A lot that cannot be written: those that clash and the others, or two halves."""
    keys = error.keys if isinstance(error, Clash) else frozenset()
    clashing = [unit for unit in lot if keys & keys_of(unit.fix.edits)]
    if 0 < len(clashing) < len(lot):
        chosen = {id(unit) for unit in clashing}
        return clashing, [unit for unit in lot if id(unit) not in chosen]
    middle = len(lot) // 2
    return lot[middle:], lot[:middle]
