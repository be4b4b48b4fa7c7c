"""What does each command do? One small function per command, heavy imports inside them."""

from __future__ import annotations

import io
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.cli.exit_codes import FINE, OWN_FAULT, exit_code
from basslint.cli.handed_back import files_of_group, write_group, write_guide, write_loop_guide
from basslint.cli.learning import explain, rules
from basslint.cli.output import (
    complain,
    is_folder,
    keep_inputs,
    write,
    write_bytes,
    write_folder,
)
from basslint.cli.shared_options import STANDARD
from basslint.cli.stated import facts_as_typed, run_options
from basslint.cli.values import bar_range
from basslint.cli.waiving import accept, waive
from basslint.cli.watching import watch
from basslint.errors import UsageError
from basslint.util.records import replace
from basslint.util.text import harmless

if TYPE_CHECKING:
    from basslint.report.section import Section
    from basslint.settings.run_options import RunOptions

CAUTION = "Start low: a sub bass at high level harms ears and speakers, and small speakers hide it."
BOOK = "BOOK.html"  # the name under which the rule book's page is looked for
SOUND_SUFFIXES = (".wav", ".flac", ".aif", ".aiff", ".ogg")  # what `chart` reads as a loop


def check(args: Namespace) -> int:
    """``basslint check``: judge files and print what was found."""
    from basslint.batch.cache import Cache, folder
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
    home = None if args.no_cache else folder()
    result = run(job, songs, args.jobs, Cache(home) if home else None, whole, others)
    _refuse_if_all_are_misused(result.sections)
    remarks = (*found.remarks, *result.run.remarks)
    report = replace(result.run, remarks=remarks, book=_book_beside(args), shard=args.shard or "")
    lacking = [s for s in result.sections if s.strict]
    failing = sum(s.tally.failing for s in result.sections) + len(lacking)
    unreadable = sum(s.problem is not None for s in result.sections)
    # known before anything is written: a reader of the pipe that leaves early changes nothing
    args.code = exit_code(any(s.faults for s in result.sections), unreadable, failing)
    if args.format == "html" and is_folder(args.output):
        from basslint.report.formats.html_folder import pages

        write_folder(Path(args.output), pages(result.sections, report))
    else:
        write(args, format_named(args.format).assemble(result.sections, report))
    for each in lacking:
        complain(f"{each.path}: not judged enough for a strict run: {each.strict}.")
    return int(args.code)


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
    from basslint.batch.merge import merge as join

    merged = join([Path(p) for p in args.reports])
    failing = merged.failing(args.gate or "error") + merged.lacking
    args.code = exit_code(merged.faults, merged.unreadable + len(merged.missing), failing)
    write(args, merged.pieces)
    for sentence in merged.missing:
        complain(f"{sentence}\nGive its report, too.")
    return int(args.code)


def chart(args: Namespace) -> int:
    """``basslint chart``: print what was heard."""
    from basslint.checking.one_file import chart_of

    path = Path(args.file)
    if path.suffix.lower() in SOUND_SUFFIXES:
        return _chart_loop(args, path)
    only_loops = [w for w in ("bpm", "bars", "meter", "begins") if getattr(args, w)]
    if only_loops:
        raise UsageError(
            f"--{only_loops[0]} is for loops of sound; {path} is none.",
            "Leave it out: a MIDI file states its own tempo and bars.",
        )
    settings = run_options(args).settings_of(path)
    heard = chart_of(path, settings)
    if args.guide:
        write_guide(args, heard)
    if args.format == "json":
        from basslint.report.formats.json_chart import chart_json

        write(args, [chart_json(heard)])
    else:
        from basslint.report.formats.chart_text import print_chart

        stream = io.StringIO() if args.output else sys.stdout
        if path.is_dir():
            stream.write(harmless(f"{files_of_group(path, settings)}\n"))
        print_chart(heard, stream, settings.middle_c)
        if isinstance(stream, io.StringIO):
            write(args, [stream.getvalue()])
    return FINE


def _chart_loop(args: Namespace, path: Path) -> int:
    """``basslint chart LOOP.wav``: print what was heard in a loop of sound."""
    from basslint.audio.loop import hear_loop
    from basslint.cli.loops import stated_loop
    from basslint.report.formats.loop_json import loop_json
    from basslint.report.formats.loop_text import print_loop

    longest = run_options(args).settings_of(path).limits.max_loop_s
    heard = hear_loop(path, stated_loop(args), longest)
    if args.guide:
        write_loop_guide(args, heard)
    if args.format == "json":
        write(args, [loop_json(heard)])
    else:
        stream = io.StringIO() if args.output else sys.stdout
        print_loop(heard, stream)
        if isinstance(stream, io.StringIO):
            write(args, [stream.getvalue()])
    return FINE


def sound(args: Namespace) -> int:
    """``basslint sound``: measure a bass one-shot."""
    from basslint.sound.one_shot import measure_sound

    heard = measure_sound(Path(args.file))
    if args.format == "json":
        from basslint.report.formats.sound_json import sound_json

        sys.stdout.write(sound_json(heard))
    else:
        from basslint.report.formats.sound_text import print_sound

        print_sound(heard, sys.stdout)
    return FINE


def mend(args: Namespace) -> int:
    """``basslint mend``: write a corrected copy and list every edit."""
    from basslint.checking.book import book_for
    from basslint.checking.mended import mend_file
    from basslint.mending.account import Choice
    from basslint.report.formats.mend_text import print_mended
    from basslint.rulebook.lookup import find_rules
    from basslint.util.files import MENDED, write_atomically

    path, options = Path(args.file), run_options(args)
    piped = args.output == STANDARD  # then the account goes to standard error
    if piped and args.format == "json":
        raise UsageError(
            "--output -: standard output takes the song or its account, not both.",
            "Name a file with --output, or leave --format json out.",
        )
    settings = options.settings_of(path)
    book = book_for(settings)
    only, without = find_rules(options.only, book), find_rules(options.without, book)
    choice = Choice(args.by_ear, frozenset(only), frozenset(without))
    result = mend_file(path, settings, settings.choose(book), choice)
    if path.is_dir():
        return write_group(args, path, settings, result)
    target: Path | None = Path(args.output) if args.output else path.with_suffix(MENDED)
    if args.in_place:
        target = path
    elif args.dry_run or (not result.applied and not args.output):
        target = None
    replaced = not piped and target is not None and target.exists()
    if piped:
        write_bytes(result.data, "MIDI")
    elif target is not None:
        if not args.in_place:
            keep_inputs(args, target)
        write_atomically(target, result.data)
    if args.format == "json":
        from basslint.report.formats.mend_json import mend_json

        sys.stdout.write(mend_json(result, target))
    else:
        stream = sys.stderr if piped else sys.stdout
        print_mended(result, target, args.dry_run, stream, settings.middle_c, replaced=replaced)
    return OWN_FAULT if result.after.faults else FINE


def audition(args: Namespace) -> int:
    """``basslint audition``: write a WAV to hear by."""
    from basslint.audition.mix import GUESSED_T60_S, Wish, render, wav
    from basslint.checking.one_file import chart_of
    from basslint.util.files import write_atomically

    path = Path(args.file)
    own = path.parent / f"{path.stem}.audition.wav"  # `/` has no name: refused below
    target = Path(args.output) if args.output else own
    keep_inputs(args, target)
    settings = run_options(args).settings_of(path)
    heard = written = chart_of(path, settings)
    if args.mended:
        from basslint.checking.book import book_for
        from basslint.checking.mended import hear_mended

        heard = hear_mended(path, settings, settings.choose(book_for(settings)), args.by_ear)
    bars = bar_range(args.bars) if args.bars else None
    wish = Wish(bars, args.octaves_up, args.solo, args.small_speakers, args.roots)
    # as loud as the file as written, so that the two can be compared
    data = wav(render(heard, wish, written if args.mended else None))
    if args.output == STANDARD:
        write_bytes(data, "sound")
        sentence, stream = "Wrote the sound to standard output.", sys.stderr
    else:
        write_atomically(target, data)
        sentence, stream = f"Wrote {target}.", sys.stdout
    if heard.facts.decay_s is None and not args.roots:
        guess = f"The decay of the sound is unknown; {GUESSED_T60_S:g} s was taken."
        print(f"{guess} State --decay.", file=stream)
    print(harmless(f"{sentence} {CAUTION}"), file=stream)
    return FINE


COMMANDS: dict[str, Callable[[Namespace], int]] = {
    "accept": accept,
    "audition": audition,
    "check": check,
    "chart": chart,
    "explain": explain,
    "mend": mend,
    "merge": merge,
    "rules": rules,
    "sound": sound,
    "waive": waive,
    "watch": watch,
}
