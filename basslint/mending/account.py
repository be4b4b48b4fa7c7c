"""What may be mended, and what has become of every finding?"""

from __future__ import annotations

from basslint.fixes.edits import Fix
from basslint.judging.results import FileReport, Finding
from basslint.util.records import record


@record
class Choice:
    """Which fixes to apply: safe ones, with ``by_ear`` the others too.

    ``only``: rule names to mend for (empty: all); ``leave``: rule names to leave alone.
    """

    by_ear: bool = False
    only: frozenset[str] = frozenset()
    leave: frozenset[str] = frozenset()


@record
class Applied:
    """A finding that is mended, and how. Ticks are those of the file before its round."""

    finding: Finding
    fix: Fix


@record
class Left:
    """A finding that stands in the mended file, and why."""

    finding: Finding
    why: str


@record
class Conflict:
    """Findings whose fixes touch the same event; none of them was applied."""

    findings: tuple[Finding, ...]


@record(eq=False, kw_only=True)
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
