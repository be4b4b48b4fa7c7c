"""How is work bounded in time and memory, where the system can do that?"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType

AGAIN_S = 1.0  # an alarm that rings in a callback of the interpreter is swallowed: it rings again
LONGEST_S = 1e8  # three years: an alarm cannot be set for ever
MOST_MEMORY = 4 * 1024**3  # bytes of a process


class TookTooLong(BaseException):
    """Raised inside work whose time is over; no `Exception`, so that no rule's guard takes it."""

    def __init__(self, seconds: float) -> None:
        super().__init__(late(seconds))


def late(seconds: float) -> str:
    """What is said of work whose time was over."""
    return f"it took longer than {seconds:g} s (limit `max_seconds`)"


RAISE_TIME = "Leave it out, or raise the limit in the settings: [limits]."
TOO_MUCH_MEMORY = f"it needed more memory than is allowed ({MOST_MEMORY // 1024**3} GB)"
LEAVE_OUT = "Leave it out, or check a shorter part of it."


@contextlib.contextmanager
def in_time(seconds: float) -> Iterator[None]:
    """Raise `TookTooLong` in what runs under this once its time is over.

    Only in the main thread of a system with alarms; elsewhere it runs as long as it needs.
    """
    if (
        not hasattr(signal, "setitimer")
        or threading.current_thread() is not threading.main_thread()
    ):
        yield
        return

    def ring(_signal: int, _frame: FrameType | None) -> None:
        raise TookTooLong(seconds)

    previous = signal.signal(signal.SIGALRM, ring)
    try:
        signal.setitimer(signal.ITIMER_REAL, min(seconds, LONGEST_S), AGAIN_S)
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, previous)


@contextlib.contextmanager
def in_memory(most: int = MOST_MEMORY) -> Iterator[None]:
    """Have this process fail with `MemoryError` at what it would take over ``most`` bytes, where
    the system can bound it; what held before holds again afterwards."""
    try:
        import resource

        before = resource.getrlimit(resource.RLIMIT_AS)
        bounds = [most, *(b for b in before if b != resource.RLIM_INFINITY)]
        resource.setrlimit(resource.RLIMIT_AS, (min(bounds), before[1]))
    except (ImportError, ValueError, OSError):  # Windows has none, macOS refuses
        yield
        return
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)
