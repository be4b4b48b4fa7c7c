"""How long may a command take, and how much memory?"""

from __future__ import annotations

import contextlib
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from basslint.batch.bounds import in_memory, in_time

# Commands on one file, in this process. Others bound each file for itself, `waive` the time it
# takes to judge, not its wait for the settings, `merge` all its reports together.
_ON_ONE_FILE = ("audition", "chart", "explain", "mend", "sound")


@contextlib.contextmanager
def within_limits(args: Namespace) -> Iterator[None]:
    """Bound a command: `max_seconds` of the settings in force for its file, and memory.

    Raises `TookTooLong` and `MemoryError` in it.
    """
    if args.command == "watch":  # goes on until it is ended, and bounds each check
        yield
        return
    with in_memory():
        if args.command not in _ON_ONE_FILE or not args.file:
            yield
            return
        from basslint.settings.discovery import settings_for

        named = getattr(args, "settings", None)
        limits = settings_for(Path(args.file), Path(named) if named else None).limits
        with in_time(limits.max_seconds):
            yield
