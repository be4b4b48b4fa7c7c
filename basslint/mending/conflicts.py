"""Which fixes may not be done together, since they touch the same event?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from basslint.judging.results import Finding
from basslint.mending.locate import Event
from basslint.mending.units import Reasons, Unit, reasons_of
from basslint.util.records import record


@record
class Parted:
    """Fixes parted by what they share.

    ``free``: share no event, or go first; ``waiting``: by ear, and a safe fix of the same event
    goes first; ``conflicting``: groups of which none may be done, each fix in one of them; ``why``:
    the reason of each's findings.
    """

    free: list[Unit]
    waiting: list[Unit]
    conflicting: list[tuple[Unit, ...]]
    why: Reasons


def part(units: Sequence[Unit], findings: Sequence[Finding]) -> Parted:
    """Part fixes: those of one event conflict, save that one safe fix goes before any by ear.

    ``findings``: those of the report that is mended for, which units refer to.
    """
    users: dict[Event, list[int]] = {}
    for index, unit in enumerate(units):
        for event in unit.events:
            users.setdefault(event, []).append(index)
    shared = [frozenset(indexes) for indexes in users.values() if len(indexes) > 1]
    safe = frozenset(index for index, unit in enumerate(units) if unit.fix.kind == "safe")
    conflicting: dict[int, set[int]] = {}
    for group in shared:
        if len(group & safe) != 1:
            _set_against(group, conflicting)
    waits: set[int] = set()
    for group in shared:
        ahead = group & safe
        if len(ahead) == 1 and ahead <= conflicting.keys():
            _set_against(group, conflicting)  # what it would wait for never comes
        elif len(ahead) == 1:
            waits |= group - ahead
    why: Reasons = {}
    for index, others in conflicting.items():
        names = sorted({findings[row].rule for i in others - {index} for row in units[i].findings})
        reason = (
            f"its fix changes the same notes as that of {', '.join(names)}; neither was applied"
        )
        why.update(reasons_of([units[index]], reason))
    groups = _apart(conflicting)
    return Parted(
        [unit for i, unit in enumerate(units) if i not in conflicting and i not in waits],
        [units[i] for i in sorted(waits - conflicting.keys())],
        [tuple(units[i] for i in group) for group in groups],
        why,
    )


def _set_against(group: frozenset[int], conflicting: dict[int, set[int]]) -> None:
    for index in group:
        conflicting.setdefault(index, set()).update(group)


def _apart(beside: Mapping[int, set[int]]) -> list[tuple[int, ...]]:
    """Fixes in groups of which none shares an event with another, from those beside each."""
    groups: list[tuple[int, ...]] = []
    seen: set[int] = set()
    for first in sorted(beside):
        group: set[int] = set()
        ahead = [] if first in seen else [first]
        while ahead:
            index = ahead.pop()
            if index not in group:
                group.add(index)
                ahead += beside[index] - group
        seen |= group
        groups += [tuple(sorted(group))] if group else []
    return groups
