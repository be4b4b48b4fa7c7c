"""How is a run over many songs made of what the cache knows and what workers find out?"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.batch.job import Job, Order, Outcome, check_song, lost, may_rest
from basslint.batch.pool import Lost, run_all, worker_count
from basslint.batch.progress import progress
from basslint.batch.stems import stems_apart
from basslint.checking.book import book_of
from basslint.checking.members import meet
from basslint.report.section import Run, Section
from basslint.rulebook.model import Rule
from basslint.util.records import record, replace
from basslint.waivers.model import Ledger

if TYPE_CHECKING:
    from basslint.batch.cache import Cache


@record
class Result:
    """The sections of a run in the order of its songs, and what holds for all of them."""

    sections: tuple[Section, ...]
    run: Run


def run(
    job: Job,
    songs: Sequence[Path],
    jobs: int | None = None,
    cache: Cache | None = None,
    whole: Sequence[Path] = (),
    others: Sequence[Path] = (),
) -> Result:
    """Check songs on ``jobs`` processes (None: as many as pay for themselves).

    ``whole``: folders of which every song is among ``songs``, or else among ``others``, which
    another shard checks. Settings and rules are read before
    anything is checked, so that a fault in them stops the run at once: raises `SettingsError`,
    `RuleError`, `UsageError`. A song that crashes or never ends is a fault of its own section.
    """
    job = replace(job, binds=cache.book_of) if cache else replace(job, keeps=False)
    orders = [job.order(song) for song in songs]
    rules = _all_rules(orders)
    sheet = replace(job.sheet, index=tuple(r.name for r in rules))
    job = replace(job, sheet=sheet, binds=book_of)  # workers have the books, and need no cache
    keys = _keys(job, orders, songs) if cache else []
    outcomes: list[Outcome | None] = [None] * len(songs)
    for place, key in enumerate(keys):
        known = cache.get(key) if cache and key else None
        if known and all(0 <= row < len(orders[place].settings.waivers) for row in known.used):
            outcomes[place] = known
    open_ = [place for place, outcome in enumerate(outcomes) if outcome is None]
    open_.sort(key=lambda place: -_size(songs[place]))  # the longest first, so that none ends late
    with progress(len(open_), sys.stderr) as tick:
        tasks = [songs[place] for place in open_]
        seconds = [orders[place].settings.limits.max_seconds for place in open_]
        for row, answer in run_all(
            partial(check_song, job), tasks, worker_count(len(tasks), jobs), seconds
        ):
            place = open_[row]
            if isinstance(answer, Lost):
                answer = lost(job, songs[place], orders[place], answer)
            outcomes[place] = answer
            if cache and keys[place] and may_rest(answer):
                cache.put(str(keys[place]), answer)
            tick()
    done = [outcome for outcome in outcomes if outcome is not None]
    if cache:
        cache.trim()
        if any(outcome.section.faults for outcome in done) and cache.has_misled():
            job = replace(job, binds=book_of, _chosen={})
            return run(job, songs, jobs, None, whole, others)
    ledger = Ledger(job.today, whole, in_part=bool(others))
    for song, order, outcome in zip(songs, orders, done, strict=True):
        meet(ledger, song, order.settings)
        if outcome.section.problem is None and not outcome.section.faults:
            settings = order.settings
            judged = {rule.name for rule in order.rules}
            ledger.enter(settings.waivers, outcome.used, settings.folder, judged)
    for song in others:
        meet(ledger, song, job.options.settings_of(song))
    sections = tuple(outcome.section for outcome in done)
    # another shard may have what these lack
    apart = () if others else stems_apart(zip(songs, sections, strict=True), "basslint check")
    return Result(sections, Run(rules, (*ledger.remarks(), *apart), job.sheet))


def _all_rules(orders: Sequence[Order]) -> tuple[Rule, ...]:
    """The rules of all songs, each once; where two songs have them otherwise, the first's."""
    books = {order.mark: order.rules for order in orders}
    rules: dict[str, Rule] = {}
    for book in books.values():
        for rule in book:
            rules.setdefault(rule.name, rule)
    return tuple(sorted(rules.values(), key=lambda r: (r.family, r.name)))


def _keys(job: Job, orders: Sequence[Order], songs: Sequence[Path]) -> list[str | None]:
    """The keys of what a cache may hold of songs."""
    from basslint.batch.cache import key_of  # a run without one imports none

    return [key_of(job, order, song) for order, song in zip(orders, songs, strict=True)]


def _size(song: Path) -> int:
    try:
        return song.stat().st_size
    except OSError:
        return 0
