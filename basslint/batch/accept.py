"""How is what stands today let stand, one finding or all of them?"""

from __future__ import annotations

import datetime
from argparse import Namespace
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from basslint.api import check_file
from basslint.batch.pool import Lost, run_all, worker_count
from basslint.cli.stated import find_rule, held, settings_held
from basslint.errors import UsageError
from basslint.judging.results import FileReport, Finding
from basslint.settings.waiver_writer import add_waivers, home_of, matching, name_in, waivers_for
from basslint.waivers.model import Waiver


@dataclass(frozen=True, slots=True)
class Accepted:
    """Settings files with the number of waivers added to each, and songs that were left out."""

    written: tuple[tuple[Path, int], ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Standing:
    """The unwaived findings of a song, or why there is nothing to say of it."""

    findings: tuple[Finding, ...] = ()
    problem: str = ""


def waive(args: Namespace, song: Path) -> Accepted:
    """Let one rule's findings in a song stand. Raises `UsageError` where there are none."""
    settings, book = held(args, song)
    rule = find_rule(args.rule, book).name
    report = check_file(song, settings, settings.choose(book))
    if report.problem is not None:
        raise UsageError(f"{song}: {report.problem.message}", report.problem.advice)
    return _add(args, [(song, matching(report, rule, args.bar))], ())


def accept(args: Namespace, songs: Sequence[Path]) -> Accepted:
    """Let everything that stands in the songs today stand."""
    seconds = [settings_held(args, song).limits.max_seconds for song in songs]
    jobs = worker_count(len(songs), args.jobs)
    answers = run_all(partial(_standing, args), songs, jobs, seconds)
    found: dict[int, _Standing] = {
        place: _Standing(problem=f"The check gave no answer: {answer.reason}.")
        if isinstance(answer, Lost)
        else answer
        for place, answer in answers
    }
    left_out = [
        f"{song}: {found[place].problem} It was left out."
        for place, song in enumerate(songs)
        if found[place].problem
    ]
    return _add(args, [(s, found[i].findings) for i, s in enumerate(songs)], left_out)


def _standing(args: Namespace, song: Path) -> _Standing:
    settings, book = held(args, song)
    report: FileReport = check_file(song, settings, settings.choose(book))
    if report.problem is not None:
        return _Standing(problem=report.problem.message)
    return _Standing(tuple(f for f in report.findings if f.waived is None))


def _add(
    args: Namespace,
    standing: Iterable[tuple[Path, Sequence[Finding]]],
    left_out: Iterable[str],
) -> Accepted:
    """Write waivers for findings, each into the settings file of its song."""
    reason, until = args.reason.strip(), _day(args.until)
    if not reason:
        raise UsageError("--reason is empty.", "Say why it may stand; whoever reviews it will ask.")
    by_home: dict[Path, list[Waiver]] = {}
    for path, found in standing:
        home = Path(args.settings) if args.settings else home_of(path)
        made = waivers_for(found, name_in(home, path), reason, until)
        by_home.setdefault(home, []).extend(made)
    for home, waivers in by_home.items():
        if waivers:
            add_waivers(home, waivers)
    return Accepted(tuple((h, len(w)) for h, w in by_home.items()), tuple(left_out))


def _day(text: str | None) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text) if text else None
    except ValueError:
        raise UsageError(f"--until: “{text}” is no date.", "Write 2027-01-31.") from None
