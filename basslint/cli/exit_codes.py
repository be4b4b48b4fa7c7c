"""What does a command's exit code say?"""

from __future__ import annotations

FINE, FOUND, WRONG_USE, OWN_FAULT = 0, 1, 2, 3
INTERRUPTED, TERMINATED = 130, 143  # 128 and the number of the signal, as shells have it


def exit_code(faults: bool, unreadable: int, failing: int) -> int:
    """The run's exit code, the same for every format."""
    if faults:
        return OWN_FAULT
    if unreadable:
        return WRONG_USE
    return FOUND if failing else FINE
