"""Did these fixes cure what they were for, and bring about nothing else?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.judging.results import FileReport, Finding
from basslint.mending.units import Unit
from basslint.rulebook.model import LEVELS

_Key = tuple[str, int, int, int, int | None]


def _key(finding: Finding) -> _Key:
    part = finding.part
    voice = (part.track, part.channel) if part else (-1, -1)
    return (finding.rule, *voice, finding.where.tick, finding.pitch)


def undone(units: Sequence[Unit], before: FileReport, after: FileReport) -> dict[int, str]:
    """The fixes that must go, by row in ``units``, with the reason: their finding stands, or they
    brought another. ``units`` refer to findings of ``before``."""
    if after.problem is not None:
        return dict.fromkeys(range(len(units)), after.problem.message)
    if len(after.faults) > len(before.faults):
        return dict.fromkeys(range(len(units)), after.faults[-1])
    bad: dict[int, str] = {}
    owners = {row: owner for owner, unit in enumerate(units) for row in unit.findings}
    gone, new = _unmatched(before.findings, after.findings)
    had, stand = _counted(before.findings), _counted(after.findings)
    for row in owners:
        finding = before.findings[row]
        cured = row in gone
        if finding.also:  # in all its old places, of whatever pitch, it stands as it stood
            spots = _spots(finding)
            lost = any(stand[spot] < had[spot] for spot in spots)
            cured = lost if cured else any(not stand[spot] for spot in spots)
        if not cured:
            bad[owners[row]] = f"{finding.rule} still stands"
    reach = _Reach(units)
    mildest = [max(_gravity(before.findings[row]) for row in unit.findings) for unit in units]
    of_rule: dict[str, list[int]] = {}
    for row in gone:
        of_rule.setdefault(before.findings[row].rule, []).append(row)
    for finding in new:
        nearest, touches = reach.nearest(finding)
        mine = of_rule.get(finding.rule, ()) if touches else ()
        moved = next(
            (r for r in mine if r in gone and _touches(units[nearest], before.findings[r])), None
        )
        if moved is not None:  # it went along with its note
            del gone[moved]
            owner = owners.get(moved)
            if owner is not None and _gravity(finding) <= mildest[owner]:
                bad[owner] = f"{finding.rule} still stands"
        elif finding.waived is None and _gravity(finding) <= mildest[nearest]:
            bad[nearest] = f"it brought about {finding.rule}: {finding.message}"
    return bad


def _gravity(finding: Finding) -> int:
    """0 is the gravest. A new finding less grave than all that a fix cures is worth the cure."""
    return LEVELS.index(finding.level)


def _unmatched(
    before: Sequence[Finding], after: Sequence[Finding]
) -> tuple[dict[int, None], list[Finding]]:
    """Findings that are gone, as rows of ``before`` in order, and findings that are new.

    They are matched by rule, part, tick and pitch.

    Of findings that are told together (`Finding.also`), what still stands in some of the places is
    no new finding.
    """
    stand = Counter(_key(f) for f in after)
    had = Counter(_key(f) for f in before)
    gone: dict[int, None] = {}
    for row, finding in enumerate(before):
        if stand[_key(finding)] > 0:
            stand[_key(finding)] -= 1
        else:
            gone[row] = None
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


def _counted(findings: Sequence[Finding]) -> Counter[tuple[str, int, int, int]]:
    """How many findings speak of each place."""
    return Counter(spot for finding in findings for spot in _spots(finding))


class _Reach:
    """The stretches that fixes touched, as columns, to find the nearest one to a place."""

    def __init__(self, units: Sequence[Unit]) -> None:
        self.units = units
        self.start = np.array([unit.start for unit in units], dtype=np.int64)
        self.end = np.array([unit.end for unit in units], dtype=np.int64)
        self.elsewhere: dict[tuple[int, int], NDArray[np.bool_]] = {}

    def nearest(self, finding: Finding) -> tuple[int, bool]:
        """Row of the fix nearest to a finding, and does it touch it?

        One in the voice of the finding is nearer than all others, then ticks count.
        """
        where, part = finding.where, finding.part
        away = np.maximum(np.maximum(self.start - where.end_tick, where.tick - self.end), 0)
        elsewhere = self._elsewhere((part.track, part.channel)) if part else away < 0
        row = int(np.lexsort((away, elsewhere))[0])
        return row, not (away[row] or elsewhere[row])

    def _elsewhere(self, voice: tuple[int, int]) -> NDArray[np.bool_]:
        if voice not in self.elsewhere:
            self.elsewhere[voice] = np.array([voice not in unit.voices for unit in self.units])
        return self.elsewhere[voice]


def _touches(unit: Unit, finding: Finding) -> bool:
    """Does a finding lie in the voices and the stretch that a fix touched?"""
    part, where = finding.part, finding.where
    mine = part is None or (part.track, part.channel) in unit.voices
    return mine and where.end_tick >= unit.start and where.tick <= unit.end
