"""What does each command do? Here `check` and `merge`, and where the others stand."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.cli.exit_codes import FINE, exit_code
from basslint.cli.output import (
    complain,
    is_folder,
    tell_where,
    write,
    write_folder,
)
from basslint.cli.stated import facts_as_typed, run_options
from basslint.errors import UsageError
from basslint.util.records import replace
from basslint.util.text import harmless

if TYPE_CHECKING:
    from basslint.batch.cache import Cache
    from basslint.batch.merge import Merged
    from basslint.report.section import Section
    from basslint.settings.run_options import RunOptions

BOOK = "BOOK.html"  # the name under which the rule book's page is looked for


def check(args: Namespace) -> int:
    """``basslint check``: judge files and print what was found."""
    from basslint.batch.discovery import look_for_songs, shard_of
    from basslint.batch.groups import groups_of, with_groups
    from basslint.batch.job import Job
    from basslint.batch.run import run
    from basslint.report.formats import format_named
    from basslint.report.section import sheet_for

    options = run_options(args)
    found = look_for_songs(args.paths)
    if args.together:
        groups = groups_of(args.paths, found.songs)
        songs, options = list(groups.folders), replace(options, members=groups.members)
    else:
        songs = with_groups(found.songs, options.settings_of)
    others: list[Path] = []
    if args.shard:
        mine = shard_of(songs, args.shard)
        songs, others = mine, sorted(set(songs) - set(mine))
    if args.show_settings:
        return _show_settings(options, songs)
    one = args.format == "html" and len(songs) == 1  # a page of many would be waited for
    sheet = replace(
        sheet_for(sys.stdout, piped=bool(args.output)),
        nudged="written" if one else "",
        stated=facts_as_typed(args) if args.format == "html" else "",
    )
    job = Job(options=options, format=args.format, sheet=sheet)
    whole = [Path(p) for p in args.paths if Path(p).is_dir()]
    cache = None if args.no_cache else _cache()
    result = run(job, songs, args.jobs, cache, whole, others)
    _refuse_if_all_are_misused(result.sections)
    remarks = (*found.remarks, *result.run.remarks)
    report = replace(result.run, remarks=remarks, book=_book_beside(args), shard=args.shard or "")
    lacking = [s for s in result.sections if s.strict]
    failing = sum(s.tally.failing for s in result.sections) + len(lacking)
    unreadable = sum(s.problem is not None for s in result.sections)
    # known before anything is written: a reader of the pipe that leaves early changes nothing
    args.code = exit_code(any(s.faults for s in result.sections), unreadable, failing)
    if args.format == "html" and is_folder(args.output):
        from basslint.report.formats.html_folder import INDEX, pages

        write_folder(Path(args.output), pages(result.sections, report))
        tell_where(args, Path(args.output) / INDEX)
    else:
        write(args, format_named(args.format).assemble(result.sections, report))
    for each in lacking:
        complain(f"{each.path}: not judged enough for a strict run: {each.strict}.")
    return int(args.code)


def _cache() -> Cache | None:
    """What earlier runs found, where the user has a place for it."""
    from basslint.batch.cache import Cache, folder

    home = folder()
    return Cache(home) if home else None


def _book_beside(args: Namespace) -> str:
    """The rule book's page, where it stands beside the page or pages that are to be written."""
    if args.format != "html" or not args.output:
        return ""
    home = Path(args.output)
    home = home if is_folder(args.output) else home.parent
    return BOOK if (home / BOOK).is_file() and home / BOOK != Path(args.output) else ""


def _refuse_if_all_are_misused(sections: Sequence[Section]) -> None:
    """What was stated fits none of the songs: that is wrong use, not a trait of the songs."""
    problems = [s.problem for s in sections if s.problem and s.problem.is_misuse]
    if problems and len(problems) == len(sections):
        raise UsageError(problems[0].message, problems[0].advice)


def _show_settings(options: RunOptions, songs: Sequence[Path]) -> int:
    from basslint.checking.book import book_for
    from basslint.settings.display import settings_text

    for path in songs:
        settings = options.settings_of(path)
        rules = options.choose(settings, book_for(settings))
        sys.stdout.write(harmless(settings_text(path, settings, rules)))
    return FINE


def merge(args: Namespace) -> int:
    """``basslint merge``: join the JSON reports of shards."""
    merged = _merged_in_time([Path(p) for p in args.reports])
    failing = merged.failing(args.gate or "error") + merged.lacking
    args.code = exit_code(merged.faults, merged.unreadable + len(merged.missing), failing)
    write(args, merged.pieces)
    for sentence in merged.missing:
        complain(f"{sentence}\nGive its report, too.")
    return int(args.code)


def _merged_in_time(reports: Sequence[Path]) -> Merged:
    """The reports joined; each may take what the settings in force for the first give a song."""
    from basslint.batch.bounds import TookTooLong, in_time
    from basslint.batch.merge import merge as join
    from basslint.settings.discovery import settings_for

    each = settings_for(reports[0], None).limits.max_seconds
    try:
        with in_time(each * len(reports)):
            return join(reports)
    except TookTooLong as error:
        late = str(error)
    # not in its place: what ended a run is looked for behind an error
    raise UsageError(
        f"The reports were given up: {late}, {each:g} s for each of them.",
        "Merge fewer at once, or raise the limit in the settings: [limits].",
    )


_ELSEWHERE = {
    "accept": "waiving",
    "audition": "one_song",
    "chart": "one_song",
    "explain": "learning",
    "mend": "one_song",
    "rules": "learning",
    "sound": "one_song",
    "waive": "waiving",
    "watch": "watching",
}  # the modules of commands that a check does not wait for


def command(name: str) -> Callable[[Namespace], int]:
    """The function of a command, imported when it is asked for."""
    if name in _ELSEWHERE:
        found: Callable[[Namespace], int] = getattr(
            import_module(f"basslint.cli.{_ELSEWHERE[name]}"), name
        )
        return found
    return {"check": check, "merge": merge}[name]
