"""Connects words to work: one small function per command, heavy imports inside them."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from basslint.errors import BasslintError, UsageError
from basslint.options import bar_range, parse
from basslint.stated import chosen, find_rule, held

if TYPE_CHECKING:
    from basslint.charting import Chart
    from basslint.findings import FileReport, Finding, Level, Report
    from basslint.rule import Rule
    from basslint.settings import Settings
    from basslint.waivers import Waiver

CAUTION = "Start low: a sub bass at high level harms ears and speakers, and small speakers hide it."
FINE, FOUND, WRONG_USE, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 130


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; no traceback leaves here without ``--debug``."""
    words = sys.argv[1:] if words is None else words
    debug = "--debug" in words
    # numpy's matrix products are small here: threads would wait for each other, and for the workers
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
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
    middle_c = 4
    for path in find_songs(args.paths):
        settings, book = held(args, path)
        gate, middle_c = args.gate or settings.gate, settings.middle_c
        reports.append(check_file(path, settings, chosen(args, settings, book)))
    report = Report(tuple(reports))
    _print_report(args, report, book, middle_c, gate)
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
    settings, _ = held(args, path)
    heard = hear(path, settings)
    with _output(args) as stream:
        if args.format == "json":
            from basslint.report.json_report import chart_json

            stream.write(chart_json(heard))
        else:
            from basslint.report.chart_text import print_chart

            print_chart(heard, stream, settings.middle_c)
    return FINE


def rules(args: Namespace) -> int:
    """``basslint rules``: the catalogue, or the readings that house rules may use."""
    from basslint.report import catalogue

    settings, book = held(args, Path.cwd() / "any.mid")
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
    from basslint.report.page_text import print_page

    path = Path(args.file) if args.file else Path.cwd() / "any.mid"
    settings, book = held(args, path)
    by_name = {r.name: r for r in (*book, *settings.choose(book))}
    rule = find_rule(args.rule, tuple(by_name.values()))
    report = None
    if args.file:
        from basslint.api import check_file

        report = check_file(path, settings, (rule,))
    print_page(rule, sys.stdout, report, settings.middle_c)
    return FINE


def sound(args: Namespace) -> int:
    """``basslint sound``: measure a bass one-shot."""
    from basslint.hear.sound import measure_sound

    heard = measure_sound(Path(args.file))
    if args.format == "json":
        from basslint.report.sound_json import sound_json

        sys.stdout.write(sound_json(heard))
    else:
        from basslint.report.sound_text import print_sound

        print_sound(heard, sys.stdout)
    return FINE


@contextlib.contextmanager
def _output(args: Namespace) -> Iterator[TextIO]:
    """Standard output, or the file of ``--output``, which appears only once it is complete."""
    if not args.output:
        yield sys.stdout
        return
    from basslint.files import write_atomically

    stream = io.StringIO()
    yield stream
    write_atomically(Path(args.output), stream.getvalue().encode("utf-8"))


def _print_report(
    args: Namespace, report: Report, book: tuple[Rule, ...], middle_c: int, gate: Level
) -> None:
    """Write the report in the format that was asked for."""
    with _output(args) as stream:
        if args.format == "text":
            from basslint.report.text import print_report

            print_report(report, stream, middle_c)
        elif args.format == "json":
            from basslint.report.json_report import report_json

            stream.write(report_json(report))
        elif args.format == "html":
            from basslint.audition.compare import compare
            from basslint.report.html import html

            stream.write(html(report, book, compare, middle_c))
        elif args.format == "sarif":
            from basslint.report.sarif import report_sarif

            stream.write(report_sarif(report, book))
        elif args.format == "junit":
            from basslint.report.junit import report_junit

            stream.write(report_junit(report, book, gate))
        else:
            from basslint.report.markdown import report_markdown

            stream.write(report_markdown(report, book))


def mend(args: Namespace) -> int:
    """``basslint mend``: write a corrected copy and list every edit."""
    from basslint.api import check_bytes, read_bytes
    from basslint.files import write_atomically
    from basslint.mending import Choice
    from basslint.mending import mend as cure
    from basslint.report.mend_text import print_mended

    path = Path(args.file)
    settings, book = held(args, path)
    rules = settings.choose(book)
    for name in (*args.only, *args.without):
        find_rule(name, book)
    choice = Choice(args.by_ear, frozenset(args.only), frozenset(args.without))
    raw = read_bytes(path, settings)
    result = cure(raw, lambda data: check_bytes(data, str(path), settings, rules), choice)
    target: Path | None = Path(args.output) if args.output else path.with_suffix(".mended.mid")
    if args.in_place:
        target = path
    elif args.dry_run or (not result.applied and not args.output):
        target = None
    if target is not None:
        write_atomically(target, result.data)
    if args.format == "json":
        from basslint.report.mend_json import mend_json

        sys.stdout.write(mend_json(result, target))
    else:
        print_mended(result, target, args.dry_run, sys.stdout, settings.middle_c)
    return OWN_FAULT if result.faults or result.after.faults else FINE


def audition(args: Namespace) -> int:
    """``basslint audition``: write a WAV to hear by."""
    from basslint.api import chart as hear
    from basslint.audition.mix import GUESSED_T60_S, Wish, render, write_wav

    path = Path(args.file)
    settings, book = held(args, path)
    heard = hear(path, settings)
    if args.mended:
        heard = _mended_chart(path, settings, book, args.by_ear)
    wish = Wish(bar_range(args.bars) if args.bars else None, args.octaves_up, args.solo)
    target = Path(args.output) if args.output else path.with_suffix(".audition.wav")
    write_wav(target, render(heard, wish))
    if heard.facts.decay_s is None:
        print(f"The decay of the sound is unknown; {GUESSED_T60_S:g} s was taken. State --decay.")
    print(f"Wrote {target}. {CAUTION}")
    return FINE


def waive(args: Namespace) -> int:
    """``basslint waive``: let a finding stand, for a reason that goes into the settings."""
    from basslint.waiving import matching

    path = Path(args.file)
    report = _one_report(args, path)
    found = matching(report, args.rule, args.bar)
    return _add_waivers(args, [(path, found)])


def accept(args: Namespace) -> int:
    """``basslint accept``: let all that stands today stand, so that only new findings count."""
    from basslint.api import find_songs

    standing = []
    for path in find_songs(args.paths):
        report = _one_report(args, path)
        standing.append((path, [f for f in report.findings if f.waived is None]))
    return _add_waivers(args, standing)


def _one_report(args: Namespace, path: Path) -> FileReport:
    from basslint.api import check_file

    settings, book = held(args, path)
    report = check_file(path, settings, settings.choose(book))
    if report.problem is not None:
        _complain(f"{path}: {report.problem.message}\nIt was left out.")
    return report


def _add_waivers(args: Namespace, standing: list[tuple[Path, list[Finding]]]) -> int:
    """Write waivers for findings, each into the settings file of its song."""
    import datetime

    from basslint.waiving import add_waivers, home_of, name_in, waivers_for

    try:
        until = datetime.date.fromisoformat(args.until) if args.until else None
    except ValueError:
        raise UsageError(f"--until: “{args.until}” is no date.", "Write 2027-01-31.") from None
    by_home: dict[Path, list[Waiver]] = {}
    for path, found in standing:
        home = Path(args.settings) if args.settings else home_of(path)
        made = waivers_for(found, name_in(home, path), args.reason, until)
        by_home.setdefault(home, []).extend(made)
    for home, waivers in by_home.items():
        if waivers:
            add_waivers(home, waivers)
        print(f"{home}: {len(waivers)} waiver{'s' if len(waivers) != 1 else ''} added.")
    return FINE


def _mended_chart(path: Path, settings: Settings, book: tuple[Rule, ...], by_ear: bool) -> Chart:
    """What is heard in the file once it is mended; nothing is written."""
    from basslint.api import check_bytes, read_bytes
    from basslint.mending import Choice
    from basslint.mending import mend as cure

    rules = settings.choose(book)
    raw = read_bytes(path, settings)
    result = cure(raw, lambda d: check_bytes(d, str(path), settings, rules), Choice(by_ear))
    assert result.after.chart is not None  # mend raises where the file cannot be read
    return result.after.chart


COMMANDS: dict[str, Callable[[Namespace], int]] = {
    "accept": accept,
    "audition": audition,
    "check": check,
    "chart": chart,
    "explain": explain,
    "mend": mend,
    "rules": rules,
    "sound": sound,
    "waive": waive,
}
