"""Connects words to work: one small function per command, heavy imports inside them."""

from __future__ import annotations

import io
import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.cli.options import bar_range, parse
from basslint.cli.output import keep_inputs, write
from basslint.cli.stated import chosen, find_rule, held, named
from basslint.errors import BasslintError, UsageError
from basslint.util.text import harmless

if TYPE_CHECKING:
    from basslint.batch.accept import Accepted
    from basslint.report.section import Section

CAUTION = "Start low: a sub bass at high level harms ears and speakers, and small speakers hide it."
FINE, FOUND, WRONG_USE, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 130


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; no traceback leaves here without ``--debug``."""
    words = sys.argv[1:] if words is None else words
    debug = "--debug" in words
    # numpy's matrix products are small here: threads would wait for each other, and for the workers
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    args = Namespace()
    try:
        args = parse(words)
        if getattr(args, "output", None):
            keep_inputs(args, Path(args.output))
        code = COMMANDS[args.command](args)
        sys.stdout.flush()
        return code
    except BasslintError as error:
        if debug:
            _print_traceback()
        _complain(str(error))
        return WRONG_USE
    except KeyboardInterrupt:
        _complain("Interrupted; nothing was left half written.")
        return INTERRUPTED
    except BrokenPipeError:  # the reader of a pipe has left, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(getattr(args, "code", FINE))
    except Exception as error:
        if debug:
            _print_traceback()
        _complain(
            f"basslint has a fault of its own: {type(error).__name__}: {error}\n"
            "Run it again with --debug and report what it prints, with the file if you can."
        )
        return OWN_FAULT


def _print_traceback() -> None:
    import traceback

    traceback.print_exc()


def _complain(text: str) -> None:
    print(harmless(f"basslint: {text}"), file=sys.stderr)


def check(args: Namespace) -> int:
    """``basslint check``: judge files and print what was found."""
    from basslint.batch.cache import Cache, folder
    from basslint.batch.discovery import look_for_songs, shard_of
    from basslint.batch.job import Job
    from basslint.batch.run import run
    from basslint.report.formats import format_named
    from basslint.report.section import sheet_for

    found = look_for_songs(args.paths)
    songs = list(found.songs)
    if args.shard:
        songs = shard_of(songs, args.shard)
    if args.show_settings:
        return _show_settings(args, songs)
    job = Job(args, args.format, sheet_for(sys.stdout, piped=bool(args.output)))
    whole = [] if args.shard else [Path(p) for p in args.paths if Path(p).is_dir()]
    result = run(job, songs, args.jobs, None if args.no_cache else Cache(folder()), whole)
    _refuse_if_all_are_misused(result.sections)
    report = replace(result.run, remarks=(*found.remarks, *result.run.remarks))
    failing = sum(s.tally.failing for s in result.sections)
    unreadable = sum(s.problem is not None for s in result.sections)
    # known before anything is written: a reader of the pipe that leaves early changes nothing
    args.code = exit_code(any(s.faults for s in result.sections), unreadable, failing)
    write(args, format_named(args.format).assemble(result.sections, report))
    return int(args.code)


def exit_code(faults: bool, unreadable: int, failing: int) -> int:
    """The run's exit code, the same for every format."""
    if faults:
        return OWN_FAULT
    if unreadable:
        return WRONG_USE
    return FOUND if failing else FINE


def _refuse_if_all_are_misused(sections: Sequence[Section]) -> None:
    """What was stated fits none of the songs: that is wrong use, not a trait of the songs."""
    problems = [s.problem for s in sections if s.problem and s.problem.is_misuse]
    if problems and len(problems) == len(sections):
        raise UsageError(problems[0].message, problems[0].advice)


def _show_settings(args: Namespace, songs: Sequence[Path]) -> int:
    from basslint.settings.display import settings_text

    for path in songs:
        settings, book = held(args, path)
        sys.stdout.write(harmless(settings_text(path, settings, chosen(args, settings, book))))
    return FINE


def merge(args: Namespace) -> int:
    """``basslint merge``: join the JSON reports of shards."""
    from basslint.batch.merge import merge as join

    merged = join([Path(p) for p in args.reports])
    failing = merged.failing(args.gate or "error")
    args.code = exit_code(merged.faults, merged.unreadable, failing)
    write(args, merged.pieces)
    return int(args.code)


def chart(args: Namespace) -> int:
    """``basslint chart``: print what was heard."""
    from basslint.api import chart as hear

    path = Path(args.file)
    settings, _ = held(args, path)
    heard = hear(path, settings)
    if args.format == "json":
        from basslint.report.formats.json_chart import chart_json

        write(args, [chart_json(heard)])
    else:
        from basslint.report.formats.chart_text import print_chart

        stream = io.StringIO() if args.output else sys.stdout
        print_chart(heard, stream, settings.middle_c)
        if isinstance(stream, io.StringIO):
            write(args, [stream.getvalue()])
    return FINE


def rules(args: Namespace) -> int:
    """``basslint rules``: the catalogue, or the readings that house rules may use."""
    from basslint.judging.examples import check_examples
    from basslint.report.formats import catalogue

    settings, book = held(args, Path.cwd() / "any.mid")
    check_examples(book)
    if args.readings:
        if args.format == "json":
            sys.stdout.write(catalogue.readings_json())
        else:
            catalogue.print_readings(sys.stdout)
    elif args.format == "json":
        sys.stdout.write(catalogue.rules_json(settings.choose(book)))
    else:
        catalogue.print_rules(settings.choose(book), sys.stdout)
    return FINE


def explain(args: Namespace) -> int:
    """``basslint explain``: a rule's page, or the page applied to a file."""
    from basslint.judging.examples import check_examples
    from basslint.report.formats.lesson_text import print_page

    path = Path(args.file) if args.file else Path.cwd() / "any.mid"
    settings, book = held(args, path)
    by_name = {r.name: r for r in (*book, *settings.choose(book))}
    rule = find_rule(args.rule, tuple(by_name.values()))
    check_examples(r for r in book if r.name == rule.name)
    report = None
    if args.file:
        from basslint.api import check_file

        report = check_file(path, settings, (rule,))
        if report.problem is not None:
            problem = report.problem
            raise UsageError(f"{path} {problem.verdict}: {problem.message}", problem.advice)
    print_page(rule, sys.stdout, report, settings.middle_c)
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
    from basslint.api import read_bytes, rechecker
    from basslint.batch.discovery import MENDED
    from basslint.mending.mend import Choice
    from basslint.mending.mend import mend as cure
    from basslint.report.formats.mend_text import print_mended
    from basslint.util.files import write_atomically

    path = Path(args.file)
    settings, book = held(args, path)
    rules = settings.choose(book)
    only, without = frozenset(named(args.only, book)), frozenset(named(args.without, book))
    choice = Choice(args.by_ear, only, without)
    result = cure(read_bytes(path, settings), rechecker(path, settings, rules), choice)
    target: Path | None = Path(args.output) if args.output else path.with_suffix(MENDED)
    if args.in_place:
        target = path
    elif args.dry_run or (not result.applied and not args.output):
        target = None
    replaced = target is not None and target.exists()
    if target is not None:
        if not args.in_place:
            keep_inputs(args, target)
        write_atomically(target, result.data)
    if args.format == "json":
        from basslint.report.formats.mend_json import mend_json

        sys.stdout.write(mend_json(result, target))
    else:
        print_mended(result, target, args.dry_run, sys.stdout, settings.middle_c, replaced=replaced)
    return OWN_FAULT if result.after.faults else FINE


def audition(args: Namespace) -> int:
    """``basslint audition``: write a WAV to hear by."""
    from basslint.api import chart as hear
    from basslint.api import hear_mended
    from basslint.audition.mix import GUESSED_T60_S, Wish, render, write_wav

    path = Path(args.file)
    target = Path(args.output) if args.output else path.with_suffix(".audition.wav")
    keep_inputs(args, target)
    settings, book = held(args, path)
    heard = written = hear(path, settings)
    if args.mended:
        heard = hear_mended(path, settings, settings.choose(book), args.by_ear)
    bars = bar_range(args.bars) if args.bars else None
    wish = Wish(bars, args.octaves_up, args.solo, args.small_speakers)
    # as loud as the file as written, so that the two can be compared
    write_wav(target, render(heard, wish, written if args.mended else None))
    if heard.facts.decay_s is None:
        print(f"The decay of the sound is unknown; {GUESSED_T60_S:g} s was taken. State --decay.")
    print(harmless(f"Wrote {target}. {CAUTION}"))
    return FINE


def waive(args: Namespace) -> int:
    """``basslint waive``: let a finding stand, for a reason that goes into the settings."""
    from basslint.batch.accept import waive as let_stand

    return _tell(let_stand(args, Path(args.file)))


def accept(args: Namespace) -> int:
    """``basslint accept``: let all that stands today stand, so that only new findings count."""
    from basslint.batch.accept import accept as let_stand
    from basslint.batch.discovery import find_songs

    return _tell(let_stand(args, find_songs(args.paths)))


def _tell(done: Accepted) -> int:
    """Say which settings files were written, and which songs were left out."""
    for home, count in done.written:
        print(harmless(f"{home}: {count} waiver{'s' if count != 1 else ''} added."))
    for problem in done.left_out:
        _complain(problem)
    return WRONG_USE if done.left_out else FINE


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
}
