"""Did these fixes cure what they were for, and bring about nothing else?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.edits import Fix
from basslint.judging.results import FileReport, Finding
from basslint.mending.locate import Event
from basslint.rulebook.model import LEVELS


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
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
    gone = {id(f) for f in old}
    remain = {spot for f in after.findings for spot in _spots(f)}
    for finding in before.findings:  # one that stands in its old places was not cured
        cured = id(finding) in gone or (finding.also and not remain.issuperset(_spots(finding)))
        if id(finding) in owners and not cured:
            bad[id(owners[id(finding)])] = (owners[id(finding)], f"{finding.rule} still stands")
    reach = _Reach(units)
    of_rule: dict[str, list[Finding]] = {}
    for finding in old:
        of_rule.setdefault(finding.rule, []).append(finding)
    for finding in new:
        unit, touches = reach.nearest(finding)
        mine = of_rule.get(finding.rule, ()) if touches else ()
        moved = next((f for f in mine if id(f) in gone and _touches(unit, f)), None)
        if moved is not None:  # it went along with its note
            gone.remove(id(moved))
            owner = owners.get(id(moved))
            if owner is not None and not _lesser(finding, owner):
                bad[id(owner)] = (owner, f"{finding.rule} still stands")
        elif finding.waived is None and not _lesser(finding, unit):
            bad[id(unit)] = (unit, f"it brought about {finding.rule}: {finding.message}")
    return list(bad.values())


def _unmatched(
    before: Sequence[Finding], after: Sequence[Finding]
) -> tuple[list[Finding], list[Finding]]:
    """Findings that are gone, and findings that are new, by rule, part, tick and pitch.

    Of findings that are told together (`Finding.also`), what still stands in some of the places is
    no new finding.
    """
    stand = Counter(_key(f) for f in after)
    had = Counter(_key(f) for f in before)
    gone: list[Finding] = []
    for finding in before:
        if stand[_key(finding)] > 0:
            stand[_key(finding)] -= 1
        else:
            gone.append(finding)
    together = {spot for f in before if f.also for spot in _spots(f)}
    new: list[Finding] = []
    for finding in after:
        if had[_key(finding)] > 0:
            had[_key(finding)] -= 1
        elif not together.issuperset(_spots(finding)):
            new.append(finding)
    return gone, new


def _spots(finding: Finding) -> set[tuple[str, int, int, int]]:
    """The places of which a finding speaks, by rule and part."""
    part = finding.part
    voice = (part.track, part.channel) if part else (-1, -1)
    return {(finding.rule, *voice, place.tick) for place in finding.places}


class _Reach:
    """The stretches that fixes touched, as columns, to find the nearest one to a place."""

    def __init__(self, units: Sequence[Unit]) -> None:
        self.units = units
        self.start = np.array([unit.start for unit in units], dtype=np.int64)
        self.end = np.array([unit.end for unit in units], dtype=np.int64)
        self.elsewhere: dict[tuple[int, int], NDArray[np.bool_]] = {}

    def nearest(self, finding: Finding) -> tuple[Unit, bool]:
        """The fix nearest to a finding, and does it touch it?

        One in the voice of the finding is nearer than all others, then ticks count.
        """
        where, part = finding.where, finding.part
        away = np.maximum(np.maximum(self.start - where.end_tick, where.tick - self.end), 0)
        elsewhere = self._elsewhere((part.track, part.channel)) if part else away < 0
        row = int(np.lexsort((away, elsewhere))[0])
        return self.units[row], not (away[row] or elsewhere[row])

    def _elsewhere(self, voice: tuple[int, int]) -> NDArray[np.bool_]:
        if voice not in self.elsewhere:
            self.elsewhere[voice] = np.array([voice not in unit.voices for unit in self.units])
        return self.elsewhere[voice]


def _touches(unit: Unit, finding: Finding) -> bool:
    """Does a finding lie in the voices and the stretch that a fix touched?"""
    part, where = finding.part, finding.where
    mine = part is None or (part.track, part.channel) in unit.voices
    return mine and where.end_tick >= unit.start and where.tick <= unit.end


def _lesser(finding: Finding, unit: Unit) -> bool:
    """Is a new finding less grave than all that the fix cures? Then the cure is worth it."""
    return LEVELS.index(finding.level) > max(LEVELS.index(f.level) for f in unit.findings)
