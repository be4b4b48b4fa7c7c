"""What does a command's exit code say?"""

from __future__ import annotations

FINE, FOUND, WRONG_USE, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 130


def exit_code(faults: bool, unreadable: int, failing: int) -> int:
    """The run's exit code, the same for every format."""
    if faults:
        return OWN_FAULT
    if unreadable:
        return WRONG_USE
    return FOUND if failing else FINE
