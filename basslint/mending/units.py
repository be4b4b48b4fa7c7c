"""Which fixes were asked for, each once, and which events of the file does each touch?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from basslint.errors import MendError
from basslint.fixes.edits import Edit, Fix
from basslint.judging.results import Finding
from basslint.mending.account import Choice
from basslint.mending.locate import Event, events_of
from basslint.song.arrangement import Song
from basslint.util.records import record

WAIVED = "it is waived"
NO_FIX = "no honest fix is known; mend it by hand"
BY_EAR = "its fix may change what was meant; --by-ear applies it"
NOT_CHOSEN = "its rule was not chosen"

Reasons = dict[int, str]  # why a finding stands, by its row in the findings of a round's report


@record(eq=False, kw_only=True)
class Unit:
    """One set of edits and the findings that ask for it (several may ask for the same).

    ``findings``: rows in the findings of the report that is mended for; ``voices``: (track,
    channel); ``start``, ``end``: stretch of ticks that the edits touch, before and after.
    """

    fix: Fix
    findings: tuple[int, ...]
    events: frozenset[Event]
    voices: frozenset[tuple[int, int]]
    start: int
    end: int


def units_of(song: Song, findings: Sequence[Finding], choice: Choice) -> tuple[list[Unit], Reasons]:
    """The fixes that were asked for; for every other finding, the reason why not."""
    asked: dict[tuple[Edit, ...], tuple[Fix, list[int]]] = {}
    reasons: Reasons = {}
    for row, finding in enumerate(findings):
        why = _why_not(finding, choice)
        if why:
            reasons[row] = why
        elif finding.fix is not None:
            asked.setdefault(finding.fix.edits, (finding.fix, []))[1].append(row)
    units: list[Unit] = []
    for edits, (fix, rows) in asked.items():
        try:
            events = events_of(song, edits)
        except MendError as error:
            reasons.update(dict.fromkeys(rows, error.message))
            continue
        start, end = _span(edits)
        voices = frozenset((e.track, e.channel) for e in edits)
        units.append(
            Unit(fix=fix, findings=tuple(rows), events=events, voices=voices, start=start, end=end)
        )
    return units, reasons


def edits_of(units: Iterable[Unit]) -> list[Edit]:
    """All edits of fixes, in order."""
    return [edit for unit in units for edit in unit.fix.edits]


def reasons_of(units: Iterable[Unit], why: str) -> Reasons:
    """One reason for all findings of fixes."""
    return {row: why for unit in units for row in unit.findings}


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
