"""Which command was asked for, and what is its exit code, whatever happens?"""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from basslint.cli.commands import COMMANDS
from basslint.cli.exit_codes import FINE, INTERRUPTED, OWN_FAULT, WRONG_USE
from basslint.cli.options import parse
from basslint.cli.output import complain, keep_inputs
from basslint.errors import BasslintError


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
        complain(str(error))
        return WRONG_USE
    except KeyboardInterrupt:
        complain("Interrupted; nothing was left half written.")
        return INTERRUPTED
    except BrokenPipeError:  # the reader of a pipe has left, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(getattr(args, "code", FINE))
    except Exception as error:
        if debug:
            _print_traceback()
        complain(
            f"basslint has a fault of its own: {type(error).__name__}: {error}\n"
            "Run it again with --debug and report what it prints, with the file if you can."
        )
        return OWN_FAULT


def _print_traceback() -> None:
    import traceback

    traceback.print_exc()
