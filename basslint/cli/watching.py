"""``basslint watch``: follow a folder or a file, and serve the page."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from basslint.cli.exit_codes import FINE
from basslint.cli.stated import run_options
from basslint.errors import UsageError
from basslint.util.records import replace


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
