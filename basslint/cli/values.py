"""What do the words of the command line say?"""

from __future__ import annotations

import argparse

from basslint.errors import UsageError
from basslint.hear.facts import MOST_LOOP_BARS
from basslint.util.text import whole

MOST_PORT = 65_535
_MOST = 10**9  # of anything else that is counted


def count(text: str) -> int:
    """A number of processes. Raises `argparse.ArgumentTypeError`."""
    return _counted(text, "number of processes")


def bars(text: str) -> int:
    """A length of a loop in bars. Raises `argparse.ArgumentTypeError`."""
    return _counted(text, "length in bars", MOST_LOOP_BARS)


def bar(text: str) -> int:
    """The number of a bar. Raises `argparse.ArgumentTypeError`."""
    return _counted(text, "bar")


def port(text: str) -> int:
    """The number of a port. Raises `argparse.ArgumentTypeError`."""
    return _counted(text, "number of a port", MOST_PORT)


def semitones(text: str) -> float:
    """A number of semitones. Raises `argparse.ArgumentTypeError`."""
    return _measured(text, "number of semitones: write 12")


def tempo(text: str) -> float:
    """A number of quarters a minute. Raises `argparse.ArgumentTypeError`."""
    return _measured(text, "tempo: write 92.5")


def _measured(text: str, what: str) -> float:
    """A number as Python reads it; ``what`` it would be, for the complaint."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no {what}") from None


def _counted(text: str, what: str, most: int = _MOST) -> int:
    """A whole number from 1 to ``most``; ``what`` it would be, for the complaint."""
    found = whole(text, most)
    if not found:
        raise argparse.ArgumentTypeError(f"“{text}” is no {what}")
    return found


def bar_range(text: str) -> tuple[int, int]:
    """Read ``5-8`` or ``5``. Raises `UsageError`."""
    first, _, last = text.partition("-")
    ends = whole(first), whole(last or first)
    if ends[0] is None or ends[1] is None:
        raise UsageError(f"--bars: “{text}” is no range of bars.", "Write 5-8.")
    return ends[0], ends[1]


def named(args: argparse.Namespace) -> list[str]:
    """The files and folders that stand on the command line."""
    alone = [getattr(args, name, None) for name in ("file", "path")]
    many = [*getattr(args, "paths", ()), *getattr(args, "reports", ())]
    return [name for name in [*alone, *many] if name is not None]
