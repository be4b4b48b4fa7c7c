"""Did these fixes cure what they were for, and bring about nothing else?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from basslint.findings import LEVELS, FileReport, Finding, Fix
from basslint.smf.locate import Event


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """One set of edits and the findings that ask for it (several may ask for the same)."""

    fix: Fix
    findings: tuple[Finding, ...]
    events: frozenset[Event]
    voices: frozenset[tuple[int, int]]
    start: int  # stretch of ticks that the edits touch, before and after
    end: int


_Key = tuple[str, int, int, int, int | None]


def _key(finding: Finding) -> _Key:
    part = finding.part
    voice = (part.track, part.channel) if part else (-1, -1)
    return (finding.rule, *voice, finding.where.tick, finding.pitch)


def undone(units: Sequence[Unit], before: FileReport, after: FileReport) -> list[tuple[Unit, str]]:
    """The fixes that must go, with the reason: their finding stands, or they brought another."""
    if after.problem is not None:
        return [(unit, after.problem.message) for unit in units]
    if len(after.faults) > len(before.faults):
        return [(unit, after.faults[-1]) for unit in units]
    bad: dict[int, tuple[Unit, str]] = {}
    owners = {id(f): unit for unit in units for f in unit.findings}
    old, new = _unmatched(before.findings, after.findings)
    for finding in before.findings:  # one that stands in its old place was not cured
        if id(finding) in owners and id(finding) not in {id(f) for f in old}:
            bad[id(owners[id(finding)])] = (owners[id(finding)], f"{finding.rule} still stands")
    for finding in new:
        unit = min(units, key=lambda u: _distance(u, finding))
        moved = [f for f in old if f.rule == finding.rule and _distance(unit, f) == (0, 0)]
        if _distance(unit, finding) == (0, 0) and moved:  # it went along with its note
            old = [f for f in old if f is not moved[0]]
            if owners.get(id(moved[0])) is not None:
                owner = owners[id(moved[0])]
                bad[id(owner)] = (owner, f"{finding.rule} still stands")
        elif finding.waived is None and not _lesser(finding, unit):
            bad[id(unit)] = (unit, f"it brought about {finding.rule}: {finding.message}")
    return list(bad.values())


def _unmatched(
    before: Sequence[Finding], after: Sequence[Finding]
) -> tuple[list[Finding], list[Finding]]:
    """Findings that are gone, and findings that are new, by rule, part, tick and pitch."""
    stand = Counter(_key(f) for f in after)
    had = Counter(_key(f) for f in before)
    gone: list[Finding] = []
    for finding in before:
        if stand[_key(finding)] > 0:
            stand[_key(finding)] -= 1
        else:
            gone.append(finding)
    new: list[Finding] = []
    for finding in after:
        if had[_key(finding)] > 0:
            had[_key(finding)] -= 1
        else:
            new.append(finding)
    return gone, new


def _distance(unit: Unit, finding: Finding) -> tuple[int, int]:
    """How near a finding is to what a fix touched: another voice or not, then ticks between."""
    part = finding.part
    elsewhere = part is not None and (part.track, part.channel) not in unit.voices
    where = finding.where
    return int(elsewhere), max(0, unit.start - where.end_tick, where.tick - unit.end)


def _lesser(finding: Finding, unit: Unit) -> bool:
    """Is a new finding less grave than all that the fix cures? Then the cure is worth it."""
    return LEVELS.index(finding.level) > max(LEVELS.index(f.level) for f in unit.findings)
