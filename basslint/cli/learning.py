"""What do the commands print that one learns from: the rule book, and a rule's page?"""

from __future__ import annotations

import io
import sys
from argparse import Namespace
from pathlib import Path

from basslint.cli.exit_codes import FINE
from basslint.cli.output import write
from basslint.cli.stated import facts_stated, run_options
from basslint.errors import UsageError


def rules(args: Namespace) -> int:
    """``basslint rules``: the catalogue, or the readings that house rules may use."""
    from basslint.checking.book import book_for
    from basslint.judging.examples import check_examples
    from basslint.report.formats import catalogue

    settings = run_options(args).settings_of(Path.cwd() / "any.mid")
    book = book_for(settings)
    check_examples(book)
    chosen = settings.choose(book)
    if args.readings and args.format == "html":
        raise UsageError(
            "--readings cannot be written as html.",
            "Leave one of the two out, or say text or json.",
        )
    if args.format == "html":
        from basslint.report.formats.book import book_html

        write(args, [book_html(chosen, settings.middle_c)])
    elif args.format == "json":
        write(args, [catalogue.readings_json() if args.readings else catalogue.rules_json(chosen)])
    else:
        stream = io.StringIO() if args.output else sys.stdout
        if args.readings:
            catalogue.print_readings(stream)
        else:
            catalogue.print_rules(chosen, stream)
        if isinstance(stream, io.StringIO):
            write(args, [stream.getvalue()])
    return FINE


def explain(args: Namespace) -> int:
    """``basslint explain``: a rule's page, or the page applied to a file."""
    from basslint.checking.book import book_for
    from basslint.checking.one_file import check_file
    from basslint.judging.examples import check_examples
    from basslint.rulebook.lookup import find_rule

    of_songs = [option for option in facts_stated(args) if option != "--settings"]
    if of_songs and not args.file:
        raise UsageError(
            f"{of_songs[0]} is for songs, and none is named.", "Name one after the rule."
        )
    path = Path(args.file) if args.file else Path.cwd() / "any.mid"
    settings = run_options(args).settings_of(path)
    book = book_for(settings)
    by_name = {r.name: r for r in (*book, *settings.choose(book))}
    rule = find_rule(args.rule, tuple(by_name.values()))
    check_examples(r for r in book if r.name == rule.name)
    report = None
    if args.file:
        report = check_file(path, settings, (rule,))
        if report.problem is not None:
            problem = report.problem
            raise UsageError(f"{path} {problem.verdict}: {problem.message}", problem.advice)
    if args.format == "html":
        from basslint.judging.nearly import nearly
        from basslint.report.formats.explain_page import explain_html

        chart = report.chart if report is not None else None
        near = nearly(chart, rule, report.findings) if report is not None and chart else ()
        write(args, [explain_html(rule, report, near, settings.middle_c)])
        return FINE
    from basslint.report.formats.lesson_text import print_page

    stream = io.StringIO() if args.output else sys.stdout
    print_page(rule, stream, report, settings.middle_c)
    if isinstance(stream, io.StringIO):
        write(args, [stream.getvalue()])
    return FINE
