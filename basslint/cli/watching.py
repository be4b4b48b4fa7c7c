"""``basslint watch``: follow a folder or a file, and serve the page."""

from __future__ import annotations

import argparse
import sys
from argparse import Namespace
from pathlib import Path

from basslint.cli.exit_codes import FINE
from basslint.cli.stated import run_options
from basslint.errors import UsageError
from basslint.util.records import replace
from basslint.util.text import whole

MOST_PORT = 65_535


def watch(args: Namespace) -> int:
    """Follow until an interrupt."""
    from basslint.watch.plan import Plan
    from basslint.watch.run import follow

    text = args.text or not sys.stdout.isatty()
    root, options = Path(args.path), replace(run_options(args), together=args.together)
    if args.together and root.is_file():
        raise UsageError(
            "--together: one file alone is named.", "Name the folder that holds its parts."
        )
    plan = Plan(root=root, options=options, port=args.port, opens=not args.no_open, text=text)
    follow(plan, sys.stdout)
    return FINE


def words(parser: argparse.ArgumentParser) -> None:
    """The words of the command alone; shared ones stand in `shared_options`."""
    parser.add_argument("path", metavar="PATH", help="a folder of MIDI files, or one file")
    parser.add_argument(
        "--port", type=_port, default=0, metavar="N", help="of the page (any that is free)"
    )
    parser.add_argument(
        "--together", action="store_true", help="the files of each folder are one arrangement"
    )
    parser.add_argument("--no-open", action="store_true", help="do not open the browser")
    parser.add_argument(
        "--text", action="store_true", help="plain lines instead of a screen, for a log"
    )


def _port(text: str) -> int:
    port = whole(text, MOST_PORT)
    if not port:
        raise argparse.ArgumentTypeError(f"“{text}” is no number of a port")
    return port
