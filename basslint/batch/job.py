"""What does a run over many files do with one of them, on whichever process it lands?

A `Job` is what was asked for; `check_song` answers it for one song with an `Outcome`, which is
small and plain, so that it can travel between processes and rest in the cache.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.checking.book import book_of
from basslint.report.formats import format_named
from basslint.rulebook.pages import Page, mark_of, pages_of
from basslint.settings.model import MOST_UNJUDGED
from basslint.util.records import field, record, replace

if TYPE_CHECKING:
    from basslint.batch.pool import Lost
    from basslint.judging.results import FileReport
    from basslint.report.section import Section, Sheet
    from basslint.rulebook.model import Rule
    from basslint.settings.model import Settings
    from basslint.settings.run_options import RunOptions


@record
class Outcome:
    """A song's share of the report, and the rows of its settings' waivers that were of use."""

    section: Section
    used: tuple[int, ...] = ()


@record
class Order:
    """What holds for one song: its settings, the rules to run, and a hash of all that these
    depend on; in a run that keeps nothing, a number of its own."""

    settings: Settings
    rules: tuple[Rule, ...]
    mark: str


@record(frozen=False, kw_only=True)
class Job:
    """What was asked for: the options of the run, the format, the sheet, the day.

    ``binds``: makes rules of pages, or knows them. ``keeps``: outcomes may rest in a cache, by a
    hash of what they depend on.
    """

    options: RunOptions
    format: str
    sheet: Sheet
    binds: Callable[[tuple[Page, ...]], tuple[Rule, ...]] = book_of
    keeps: bool = True
    today: datetime.date = field(default_factory=datetime.date.today)
    _chosen: dict[tuple[object, ...], tuple[tuple[Rule, ...], str]] = field(default_factory=dict)

    def order(self, song: Path) -> Order:
        """What holds for a song. Raises `SettingsError`, `RuleError` or `UsageError`."""
        settings = self.options.settings_of(song)
        key = (
            settings.choices,
            settings.house,
            settings.plug_ins,
            frozenset(w.rule for w in settings.waivers),
        )
        if key not in self._chosen:  # many songs, few books
            pages = pages_of(settings.house, settings.plug_ins)
            rules = self.options.choose(settings, self.binds(pages))
            chosen = len(self._chosen)
            mark = _mark(self.options, settings, pages) if self.keeps else str(chosen)
            self._chosen[key] = rules, mark
        return Order(settings, *self._chosen[key])

    def sheet_for(self, settings: Settings) -> Sheet:
        """The sheet with what the song's settings say of it."""
        gate = self.options.gate or settings.gate
        share = settings.most_unjudged
        if share is None and self.options.strict:
            share = MOST_UNJUDGED
        return replace(self.sheet, middle_c=settings.middle_c, gate=gate, most_unjudged=share)


def _mark(options: RunOptions, settings: Settings, pages: tuple[Page, ...]) -> str:
    """A hash of what the rules to run depend on: pages, and what is chosen and changed of them."""
    import hashlib  # with a library of cryptography, which a run without a cache is spared

    tables = [
        [(choice.name, choice.on, choice.level, choice.numbers) for choice in table]
        for _, table in groupby(settings.choices, key=lambda choice: choice.source)
    ]
    depends_on = (mark_of(pages), tables, options.only, options.without)
    return hashlib.sha256(repr(depends_on).encode("utf-8", "backslashreplace")).hexdigest()


def check_song(job: Job, song: Path) -> Outcome:
    """Read, hear, judge and write up one song."""
    from basslint.checking.one_file import checked  # a run that knows its songs is spared hearing

    order = job.order(song)
    done = checked(song, order.settings, order.rules, job.today)
    return Outcome(section_for(job, order, done.report), tuple(sorted(done.used)))


def section_for(job: Job, order: Order, report: FileReport) -> Section:
    """What a report has to say in the format of the job."""
    sheet = job.sheet_for(order.settings)
    return format_named(job.format).section(report, order.rules, sheet)


def lost(job: Job, song: Path, order: Order, answer: Lost) -> Outcome:
    """The outcome of a song whose check gave no answer: it passed a limit, or basslint failed."""
    from basslint.judging.results import GIVEN_UP, FileReport, Problem

    if answer.advice:
        message = f"{answer.reason[:1].upper()}{answer.reason[1:]}."
        problem = Problem(GIVEN_UP, message, answer.advice)
        report = FileReport(path=str(song), problem=problem)
    else:
        report = FileReport(path=str(song), faults=(f"the check gave no answer: {answer.reason}",))
    return Outcome(section_for(job, order, report))


def may_rest(outcome: Outcome) -> bool:
    """Whether it would come out the same again: a fault may not, nor a time that was over."""
    from basslint.judging.results import GIVEN_UP

    section = outcome.section
    return not section.faults and (section.problem is None or section.problem.kind != GIVEN_UP)
