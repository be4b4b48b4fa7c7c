"""How is what stands today let stand, one finding or all of them?"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path

from basslint.batch.bounds import in_time
from basslint.batch.groups import with_groups
from basslint.batch.pool import Lost, run_all, worker_count
from basslint.checking.book import book_for
from basslint.checking.one_file import check_file
from basslint.errors import UsageError
from basslint.judging.results import FileReport, Finding
from basslint.rulebook.lookup import find_rule
from basslint.rulebook.model import LEVELS, Level
from basslint.settings.run_options import RunOptions
from basslint.settings.waiver_writer import add_waivers, home_of, matching, name_in, waivers_for
from basslint.util.records import record, replace
from basslint.waivers.model import Waiver

_AT_LEAST: Level = "warning"  # what is let stand whatever the gate: it may be set lower one day


@record
class Accepted:
    """Settings files with the number of waivers added to each, and songs that were left out.

    ``below``: findings that nobody asked to be let stand, since they are too mild to fail a run.
    """

    written: tuple[tuple[Path, int], ...]
    left_out: tuple[str, ...]
    below: int = 0


@record
class Permit:
    """For what reason findings may stand, and up to which day (None: for good)."""

    reason: str
    until: datetime.date | None = None


@record
class _Standing:
    """The unwaived findings of a song, how many of them are too mild to be let stand, or why there
    is nothing to say of it."""

    findings: tuple[Finding, ...] = ()
    below: int = 0
    problem: str = ""


def waive(
    options: RunOptions, song: Path, name: str, permit: Permit, bar: int | None = None
) -> Accepted:
    """Let the findings of the rule ``name`` in a song stand, or that in one bar.

    Raises `UsageError` where there are none, and `TookTooLong` where judging the song takes longer
    than it may; waiting for another run that changes the settings is not counted.
    """
    (whole,) = with_groups([song], options.settings_of)
    if whole != song:
        raise UsageError(
            f"{song} is read together with the other files of {whole}, and judged with them.",
            "Name the folder.",
        )
    settings = options.settings_of(song)
    book = book_for(settings)
    rule = find_rule(name, book).name
    with in_time(settings.limits.max_seconds):
        report = check_file(song, settings, settings.choose(book))
    if report.problem is not None:
        raise UsageError(f"{song}: {report.problem.message}", report.problem.advice)
    return _add(options, permit, [(song, matching(report, rule, bar))], ())


def accept(
    options: RunOptions, songs: Sequence[Path], permit: Permit, jobs: int | None = None
) -> Accepted:
    """Let everything that stands in the songs today stand; ``jobs`` as in `run`. Files that the
    settings read together are one song, as they are to a check.

    Notes are most of it and fail no run: they are let stand where the gate of their song is at
    them, or ``options.gate`` names them. What that names is the lowest level let stand, else.
    """
    songs = with_groups(songs, options.settings_of)
    seconds = [options.settings_of(song).limits.max_seconds for song in songs]
    answers = run_all(partial(_standing, options), songs, worker_count(len(songs), jobs), seconds)
    found: dict[int, _Standing] = {
        place: _Standing(problem=f"It was given up: {answer.reason}.")
        if isinstance(answer, Lost)
        else answer
        for place, answer in answers
    }
    left_out = [
        f"{song}: {found[place].problem} It was left out."
        for place, song in enumerate(songs)
        if found[place].problem
    ]
    done = _add(options, permit, [(s, found[i].findings) for i, s in enumerate(songs)], left_out)
    return replace(done, below=sum(song.below for song in found.values()))


def _standing(options: RunOptions, song: Path) -> _Standing:
    settings = options.settings_of(song)
    report: FileReport = check_file(song, settings, settings.choose(book_for(settings)))
    if report.problem is not None:
        return _Standing(problem=report.problem.message)
    least = options.gate or max(settings.gate, _AT_LEAST, key=LEVELS.index)
    unwaived = [f for f in report.findings if f.waived is None]
    taken = tuple(f for f in unwaived if LEVELS.index(f.level) <= LEVELS.index(least))
    return _Standing(taken, len(unwaived) - len(taken))


def _add(
    options: RunOptions,
    permit: Permit,
    standing: Sequence[tuple[Path, Sequence[Finding]]],
    left_out: Iterable[str],
) -> Accepted:
    """Write waivers for findings, each into the settings file of its song."""
    by_home: dict[Path, list[Waiver]] = {}
    left_out = list(left_out)
    for path, found in standing:
        home = options.settings_file or home_of(path)
        try:
            name = name_in(home, path)
        except UsageError as error:
            if len(standing) == 1:
                raise
            left_out.append(f"{error.message} It was left out.")
            continue
        made = waivers_for(found, name, permit.reason, permit.until)
        by_home.setdefault(home, []).extend(made)
    for home, waivers in by_home.items():
        if waivers:
            add_waivers(home, waivers)
    return Accepted(tuple((h, len(w)) for h, w in by_home.items()), tuple(left_out))
