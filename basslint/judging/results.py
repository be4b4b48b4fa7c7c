"""What a check says: findings, the edits that would mend them, and what was not judged.

Plain values that every later stage shares. The engine fills them, reports only print them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from basslint.util.records import record, replace

if TYPE_CHECKING:
    from basslint.fixes.edits import Edit, Fix
    from basslint.hear.chart import Chart
    from basslint.readings.slip_evidence import Weighed
    from basslint.readings.subjects import Value
    from basslint.rulebook.model import Level


@record(kw_only=True)
class Where:
    """A stretch of the song: ticks from 0; bar and beat from 1; seconds from 0.

    ``beats``: how many beats its bar has, 0 where nobody has counted.
    """

    tick: int
    end_tick: int
    bar: int
    beat: float
    time_s: float
    end_time_s: float
    beats: int = 0


@record
class PartRef:
    """Enough of a part to find it in the session. ``number`` counts from 1; ``file`` is the name of
    its file where several are read together, else empty; ``shared``: others have its name."""

    number: int
    track: int
    channel: int
    name: str
    file: str = ""
    shared: bool = False

    @property
    def full_name(self) -> str:
        """Its name, with its number where others have it too, and with the file that it stands in
        where there are several."""
        name = f"#{self.number} {self.name}" if self.shared and not self.file else self.name
        return f"{name} ({self.file})" if self.file else name


@record(kw_only=True)
class Finding:
    """One thing that is off.

    ``readings`` are the (name, value) pairs that the rule went by. ``pitch`` is the MIDI number of
    the note found fault with (None for a song-wide finding). ``byte`` and ``byte_length`` locate
    its event in the file. ``cause`` groups findings of one fault that repeats with the loop.
    ``also``: further places of which it speaks, in order, where several are told as one.
    ``evidence``: what was weighed, heaviest first, where the rule goes by a chance that weighs it.
    ``whole``: it is about the song, and its place is that of all of it.
    ``waived`` carries the reason to let it stand. ``fingerprint`` survives re-exports.
    """

    rule: str
    family: str
    level: Level
    message: str
    part: PartRef | None
    where: Where
    readings: tuple[tuple[str, Value], ...]
    certainty: float
    fix: Fix | None
    pitch: int | None = None
    byte: int | None = None
    byte_length: int | None = None
    cause: str = ""
    waived: str | None = None
    fingerprint: str = ""
    also: tuple[Where, ...] = ()
    evidence: tuple[Weighed, ...] = ()
    whole: bool = False

    @property
    def places(self) -> tuple[Where, ...]:
        """All places of which it speaks, in order."""
        return (self.where, *self.also)

    @property
    def first_edits(self) -> tuple[Edit, ...]:
        """The edits of its fix at its first place, of which its message speaks."""
        edits = self.fix.edits if self.fix is not None else ()
        if not self.also:
            return edits
        begin, stop = self.where.tick, max(self.where.end_tick, self.where.tick + 1)
        return tuple(e for e in edits if e.tick < stop and max(e.end_tick, e.tick + 1) > begin)

    def waive(self, reason: str) -> Finding:
        """The same finding with a reason to let it stand."""
        return replace(self, waived=reason)


@record
class Unjudged:
    """Bars (``start_bar`` from 1, ``end_bar`` the bar after the last) that a rule did not judge."""

    rule: str
    start_bar: int
    end_bar: int
    reason: str


GIVEN_UP = "given-up"  # what passed a limit of time or memory


@record
class Problem:
    """Why a file could not be read or checked: ``kind`` is a stable word."""

    kind: str
    message: str
    advice: str = ""
    byte: int | None = None

    @property
    def words(self) -> str:
        """What happened, and what to do next where anything can be done."""
        return f"{self.message} {self.advice}".rstrip()

    @property
    def is_misuse(self) -> bool:
        """Whether it lies in what was stated of the file, not in the file."""
        return self.kind in ("usage", "sound")

    @property
    def verdict(self) -> str:
        """What happened to the file, in words."""
        if self.kind == GIVEN_UP:
            return "was given up"
        return "could not be checked" if self.is_misuse else "could not be read"


@record(eq=False, kw_only=True)
class FileReport:
    """All that was heard and found in one file; ``chart`` is None where it is unreadable.

    ``faults`` are basslint's own: rules that crashed, as plain sentences (exit code 3).
    """

    path: str
    problem: Problem | None = None
    warnings: tuple[str, ...] = ()
    chart: Chart | None = None
    findings: tuple[Finding, ...] = ()
    unjudged: tuple[Unjudged, ...] = ()
    faults: tuple[str, ...] = ()


@record(eq=False)
class Report:
    """One run of ``check`` over files, in the order in which they are printed."""

    files: tuple[FileReport, ...]
    remarks: tuple[str, ...] = ()  # about the run itself, e.g. waivers out of use

    def count(self, level: Level) -> int:
        """How many unwaived findings stand at a level."""
        return sum(
            1 for f in self.files for x in f.findings if x.level == level and x.waived is None
        )

    @property
    def waived(self) -> int:
        """How many findings are waived."""
        return sum(1 for f in self.files for x in f.findings if x.waived is not None)

    @property
    def unreadable(self) -> int:
        """How many files could not be read."""
        return sum(1 for f in self.files if f.problem is not None)
