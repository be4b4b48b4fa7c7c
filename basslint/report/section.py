"""How is a report cut into one section a file, so that many can be written at once?

Every format is a pair of functions: ``section`` writes what one file has to say, on any process;
``assemble`` joins sections under one summary. A section is small plain data: it travels between
processes and into the cache, where a `FileReport` with its whole chart could not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, Protocol, TextIO

from basslint.judging.results import FileReport, Problem, Report, Unjudged
from basslint.rulebook.model import LEVELS, Level, Rule
from basslint.util.records import record
from basslint.util.terminal import columns

PIPED_WIDTH = 80  # columns of a pipe, which has none
ROOTS_UNJUDGED = "roots were not judged"


@record(kw_only=True)
class Sheet:
    """What a report is written on, and what is asked of it.

    ``gate``: the lowest level that fails. ``width`` in columns, ``encoding`` and ``terminal`` (it
    may be coloured) matter to text alone. ``index``: names of the run's rules, to refer to by
    place. ``nudged``: what moves of the notes found fault with would change, which takes its time,
    is ``written`` on the page or ``asked`` of its own server. ``most_unjudged``: share of the bars
    whose roots may stay unjudged in a strict run, None where the run is not strict. ``stated``:
    options of the command line without which a command for a finding would hear other things, as
    they are typed.
    """

    middle_c: int = 4
    gate: Level = "error"
    width: int = PIPED_WIDTH
    encoding: str = "utf-8"
    terminal: bool = False
    index: tuple[str, ...] = ()
    most_unjudged: float | None = None
    nudged: Literal["", "written", "asked"] = ""
    stated: str = ""


def sheet_for(stream: TextIO, width: int | None = None, piped: bool = False) -> Sheet:
    """What a stream can carry: a terminal its width and colours, a pipe or a file plain text."""
    if piped:
        return Sheet()
    terminal = bool(getattr(stream, "isatty", lambda: False)())
    width = width or (columns() if terminal else PIPED_WIDTH)
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return Sheet(width=width, encoding=encoding, terminal=terminal)


@record(kw_only=True)
class Tally:
    """How much was found: unwaived findings by level, waived ones, and those that fail the run."""

    error: int = 0
    warning: int = 0
    note: int = 0
    waived: int = 0
    failing: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            error=self.error + other.error,
            warning=self.warning + other.warning,
            note=self.note + other.note,
            waived=self.waived + other.waived,
            failing=self.failing + other.failing,
        )

    def of(self, level: Level) -> int:
        """The count of a level."""
        return {"error": self.error, "warning": self.warning, "note": self.note}[level]


@record
class Entry:
    """A line that is sorted among those of other files; the path stands between its halves."""

    rank: int
    lead: str
    rest: str


@record(kw_only=True)
class Section:
    """One file's share of a report.

    ``text`` is written in the format; ``aside`` is what the format gathers in another place;
    ``entries`` are lines that it sorts. ``bars``: length of the song. ``spoke``: rules with
    unwaived findings, ``named``: with any. ``silent``: there is nothing to say beyond the heading
    (bar what was not judged). ``bassless``: rules that judged nothing, as no bass was found.
    ``rootless``: what of the main job was left undone, in words; ``alone``: the file holds one part
    and no harmony is stated; ``strict``: why a strict run fails for it. ``drawn``: a strip is among
    the text; ``mendable``: a fix is.
    """

    path: str
    text: str
    tally: Tally
    problem: Problem | None = None
    faults: tuple[str, ...] = ()
    unjudged: tuple[Unjudged, ...] = ()
    bars: int = 0
    spoke: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    aside: str = ""
    entries: tuple[Entry, ...] = ()
    silent: bool = False
    bassless: int = 0
    rootless: str = ""
    alone: bool = False
    strict: str = ""
    drawn: bool = False
    mendable: bool = False


@record
class Run:
    """What is true of the run as a whole: its rules and remarks, and the sheet it is written on.
    ``book``: the address of the rule book, where its page stands beside; else empty; ``shard``:
    which share of the songs it is, as "2/5"; empty for all."""

    rules: tuple[Rule, ...] = ()
    remarks: tuple[str, ...] = ()
    sheet: Sheet = Sheet()
    book: str = ""
    shard: str = ""


class Format(Protocol):
    """A module that knows one format."""

    def section(self, file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
        """What one file has to say; ``rules`` are those that were run on it."""

    def assemble(self, sections: Sequence[Section], run: Run) -> Iterable[str]:
        """The whole report in pieces, in order."""


def section_of(
    file: FileReport,
    sheet: Sheet,
    text: str,
    aside: str = "",
    entries: Iterable[Entry] = (),
    drawn: bool = False,
) -> Section:
    """A section with all that is the same in every format."""
    standing = [f for f in file.findings if f.waived is None]
    counts = {level: sum(1 for f in standing if f.level == level) for level in LEVELS}
    at_gate = LEVELS[: LEVELS.index(sheet.gate) + 1]
    tally = Tally(
        **counts,
        waived=len(file.findings) - len(standing),
        failing=sum(counts[level] for level in at_gate),
    )
    return Section(
        path=file.path,
        text=text,
        tally=tally,
        problem=file.problem,
        faults=file.faults,
        unjudged=file.unjudged,
        bars=file.chart.song.grid.bars if file.chart is not None else 0,
        spoke=tuple(sorted({f.rule for f in standing})),
        named=tuple(sorted({f.rule for f in file.findings})),
        aside=aside,
        entries=tuple(entries),
        bassless=bassless(file),
        rootless=rootless(file),
        alone=_is_alone(file),
        strict=lacking(file, sheet),
        silent=not (file.problem or file.warnings or file.findings or file.faults),
        drawn=drawn,
        mendable=any(f.fix for f in standing),
    )


def bassless(file: FileReport) -> int:
    """How many rules judged nothing of a file, as no bass part was found in it."""
    if file.chart is None or file.chart.parts.bass:
        return 0
    bars = file.chart.song.grid.bars
    return len({u.rule for u in file.unjudged if u.start_bar <= 1 and u.end_bar > bars})


def rootless(file: FileReport) -> str:
    """What is said of a file whose roots were not judged, or hardly; empty where most were.

    Nor where no rule that was run has left anything unjudged.
    """
    if file.chart is None or not file.unjudged or not file.chart.parts.bass:
        return ""
    from basslint.judging.coverage import coverage  # a song that is known already was not heard

    done = coverage(file.chart)
    if 2 * done.judged >= done.bars:
        return ""
    if not done.judged:
        return ROOTS_UNJUDGED
    return f"roots were judged in {done.judged} of {done.bars} bars"


def _is_alone(file: FileReport) -> bool:
    """Does a file hold one part, whose harmony nobody states?"""
    if file.chart is None or len(file.chart.song.parts) != 1:
        return False
    return not (file.chart.facts.chords or file.chart.facts.loops)


def lacking(file: FileReport, sheet: Sheet) -> str:
    """Why a strict run fails for a file, in words; empty where it does not, or is not strict."""
    if file.chart is None or sheet.most_unjudged is None:
        return ""
    from basslint.judging.coverage import coverage

    return coverage(file.chart).lacks(sheet.most_unjudged)


def total(sections: Iterable[Section]) -> Tally:
    """The tally of all sections."""
    return sum((s.tally for s in sections), start=Tally())


def unreadable(sections: Iterable[Section]) -> int:
    """How many files could not be read."""
    return sum(1 for s in sections if s.problem is not None)


def pieces(format: Format, report: Report, rules: Sequence[Rule], sheet: Sheet) -> Iterator[str]:
    """A whole report in a format, where all of it is at hand."""
    sections = [format.section(file, rules, sheet) for file in report.files]
    yield from format.assemble(sections, Run(tuple(rules), report.remarks, sheet))
