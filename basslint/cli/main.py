"""Which command was asked for, and what is its exit code, whatever happens?"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import threading
from argparse import Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import FrameType

from basslint.batch.bounds import LEAVE_OUT, RAISE_TIME, TOO_MUCH_MEMORY, TookTooLong
from basslint.cli.bounded import within_limits
from basslint.cli.commands import command
from basslint.cli.exit_codes import FINE, INTERRUPTED, OWN_FAULT, TERMINATED, WRONG_USE
from basslint.cli.output import (
    complain,
    give_up,
    keep_from_terminal,
    keep_inputs,
    standing_streams,
)
from basslint.cli.parsing import parse
from basslint.errors import BasslintError
from basslint.util.stopped import stopped_by
from basslint.util.text import visible

_GARBAGE = (50_000, 20, 100)  # new objects, and rounds over younger ones, before they are searched


class Terminated(BaseException):
    """Raised where SIGTERM arrives, so that workers are ended and temporary files taken away."""


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; no traceback leaves here without ``--debug``."""
    words = sys.argv[1:] if words is None else words
    # numpy's matrix products are small here: threads would wait for each other, and for the workers
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # what a start makes stays: to look through it for garbage over and over took .03 to .1 of it
    gc.set_threshold(*_GARBAGE)
    with standing_streams():
        return _ended_well(words, "--debug" in words)


def _ended_well(words: Sequence[str], debug: bool) -> int:
    """The exit code of a command, with a sentence for whatever stopped it."""
    args = Namespace()
    try:
        with _asked_to_end():
            args = parse(words)
            if getattr(args, "output", None):
                keep_inputs(args, Path(args.output))
            keep_from_terminal(args)
            with within_limits(args):
                code = command(args.command)(args)
                sys.stdout.flush()
        return code
    except BrokenPipeError:  # the reader of a pipe has left, as `| head` does
        give_up(sys.stdout)
        return int(getattr(args, "code", FINE))
    except (Exception, KeyboardInterrupt, Terminated, TookTooLong) as error:
        stop = stopped_by(error)
        if debug and not isinstance(stop, (KeyboardInterrupt, Terminated)):
            _print_traceback()
        return _complain_of(stop or error)


def _complain_of(error: BaseException) -> int:
    """Say what went wrong, and whose fault it is."""
    if isinstance(error, KeyboardInterrupt):
        complain("Interrupted; nothing was left half written.")
        return INTERRUPTED
    if isinstance(error, Terminated):
        complain("Terminated; nothing was left half written.")
        return TERMINATED
    if isinstance(error, BasslintError):
        complain(str(error))
        return WRONG_USE
    if isinstance(error, OSError):
        return _refused(error)
    if isinstance(error, TookTooLong):
        complain(f"The file was given up: {error}.\n{RAISE_TIME}")
        return WRONG_USE
    if isinstance(error, MemoryError):
        complain(f"The file was given up: {TOO_MUCH_MEMORY}.\n{LEAVE_OUT}")
        return WRONG_USE
    complain(
        f"basslint has a fault of its own: {type(error).__name__}: {error}\n"
        "Run it again with --debug and report what it prints, with the file if you can."
    )
    return OWN_FAULT


def _refused(error: OSError) -> int:
    """Say what the system would not do: reach a path, or else write what is told."""
    if error.filename:
        what, advice = visible(os.fsdecode(error.filename)), "Check the path and its permissions."
    else:
        what, advice = "Standard output", "Write to a file instead: --output FILE."
        give_up(sys.stdout)  # or it would be tried again at the end
    reason = "it is closed" if isinstance(error, ValueError) else error.strerror or str(error)
    complain(f"{what} cannot be used: {reason}.\n{advice}")
    return WRONG_USE


@contextlib.contextmanager
def _asked_to_end() -> Iterator[None]:
    """Have SIGTERM end the command as an interrupt does: in order, and with no process left."""

    def end(_signal: int, _frame: FrameType | None) -> None:
        raise Terminated

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _print_traceback() -> None:
    """Where standard error takes nothing more, the exit code alone tells."""
    import traceback

    try:
        traceback.print_exc()
        sys.stderr.flush()
    except (OSError, ValueError):
        give_up(sys.stderr)
