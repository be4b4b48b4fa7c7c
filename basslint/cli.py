"""Connects words to work: one small function per command, heavy imports inside them."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.errors import BasslintError, UsageError
from basslint.options import parse

if TYPE_CHECKING:
    from basslint.findings import Level, Report
    from basslint.rulebook import Rule
    from basslint.settings import Settings

FINE, FOUND, WRONG_USE, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 130


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; no traceback leaves here without ``--debug``."""
    words = sys.argv[1:] if words is None else words
    debug = "--debug" in words
    try:
        args = parse(words)
        return COMMANDS[args.command](args)
    except BasslintError as error:
        if debug:
            raise
        _complain(str(error))
        return WRONG_USE
    except KeyboardInterrupt:
        _complain("Interrupted; nothing was left half written.")
        return INTERRUPTED
    except BrokenPipeError:  # the reader of a pipe has left, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except Exception as error:
        if debug:
            raise
        _complain(
            f"basslint has a fault of its own: {type(error).__name__}: {error}\n"
            "Run it again with --debug and report what it prints, with the file if you can."
        )
        return OWN_FAULT


def _complain(text: str) -> None:
    print(f"basslint: {text}", file=sys.stderr)


def check(args: Namespace) -> int:
    """``basslint check``: judge files and print what was found."""
    from basslint.api import check_file, find_songs
    from basslint.findings import Report

    reports = []
    gate: Level = "error"
    book: tuple[Rule, ...] = ()
    for path in find_songs(args.paths):
        settings, book = _held(args, path)
        gate = args.gate or settings.gate
        reports.append(check_file(path, settings, _chosen(args, settings, book)))
    report = Report(tuple(reports))
    _print_report(args, report, book)
    return exit_code(report, gate)


def exit_code(report: Report, gate: Level) -> int:
    """The run's exit code, the same for every format."""
    from basslint.findings import LEVELS

    if any(f.faults for f in report.files):
        return OWN_FAULT
    if report.unreadable:
        return WRONG_USE
    standing = LEVELS[: LEVELS.index(gate) + 1]
    return FOUND if any(report.count(level) for level in standing) else FINE


def chart(args: Namespace) -> int:
    """``basslint chart``: print what was heard."""
    from basslint.api import chart as hear

    path = Path(args.file)
    settings, _ = _held(args, path)
    heard = hear(path, settings)
    if args.format == "json":
        from basslint.report.json_report import chart_json

        _write(args, chart_json(heard))
    else:
        from basslint.report.chart_text import print_chart

        with _console(args) as console:
            print_chart(heard, console, settings.middle_c)
    return FINE


def rules(args: Namespace) -> int:
    """``basslint rules``: the catalogue, or the readings that house rules may use."""
    from basslint.report import catalogue

    settings, book = _held(args, Path.cwd() / "any.mid")
    chosen = settings.choose(book)
    show = catalogue.readings if args.readings else catalogue.rules
    with _console(args) as console:
        show(chosen, console, args.format)
    return FINE


def explain(args: Namespace) -> int:
    """``basslint explain``: a rule's page, or the page applied to a file."""
    from basslint.report.page_text import print_page

    path = Path(args.file) if args.file else Path.cwd() / "any.mid"
    settings, book = _held(args, path)
    rule = _rule(args.rule, settings.choose(book) or book)
    report = None
    if args.file:
        from basslint.api import check_file

        report = check_file(path, settings, settings.choose(book))
    with _console(args) as console:
        print_page(rule, console, report, settings.middle_c)
    return FINE


def sound(args: Namespace) -> int:
    """``basslint sound``: measure a bass one-shot."""
    from basslint.hear.sound import measure_sound

    heard = measure_sound(Path(args.file))
    if args.format == "json":
        from basslint.report.sound_json import sound_json

        _write(args, sound_json(heard))
    else:
        from basslint.report.sound_text import print_sound

        with _console(args) as console:
            print_sound(heard, console)
    return FINE


def _held(args: Namespace, path: Path) -> tuple[Settings, tuple[Rule, ...]]:
    """Settings for a file with the command line laid over them, and the book they name."""
    from basslint.api import book_for
    from basslint.facts import parse_key, parse_seconds
    from basslint.settings import settings_for

    file = Path(args.settings) if args.settings else None
    settings = settings_for(path, file)
    if hasattr(args, "bass"):
        settings = settings.with_facts(
            bass=tuple(args.bass),
            harmony=tuple(args.harmony),
            key=parse_key(args.key) if args.key else None,
            decay_s=parse_seconds(args.decay, "--decay") if args.decay else None,
            glide_time_s=parse_seconds(args.glide_time, "--glide-time") if args.glide_time else None,
            bend_range=args.bend_range,
            sound=args.sound,
        )
    return settings, book_for(settings)


def _chosen(args: Namespace, settings: Settings, book: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules to run: those that the settings leave on, narrowed by ``--only``/``--except``."""
    for name in (*args.only, *args.without):
        _rule(name, book)
    if args.only:
        by_name = {r.name: r for r in (*book, *settings.choose(book))}
        return tuple(by_name[n] for n in dict.fromkeys(args.only) if n not in args.without)
    return tuple(r for r in settings.choose(book) if r.name not in args.without)


def _rule(name: str, book: tuple[Rule, ...]) -> Rule:
    import difflib

    for rule in book:
        if rule.name == name:
            return rule
    near = difflib.get_close_matches(name, [r.name for r in book], n=1, cutoff=0.4)
    raise UsageError(
        f"There is no rule “{name}”.",
        f"Did you mean {near[0]}?" if near else "`basslint rules` lists them.",
    )


COMMANDS: dict[str, Callable[[Namespace], int]] = {
    "check": check,
    "chart": chart,
    "explain": explain,
    "rules": rules,
    "sound": sound,
}
