"""How does a worker learn that the process it works for is gone, however that ended?

A process that is killed cannot end its workers, and each of them holds copies of the pipes of those
before it, so none sees its own pipe close. So there is one pipe more that nobody writes to: its
writing end is the parent's alone, and the system closes it when the parent is gone.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from multiprocessing.connection import wait


class Lifeline:
    """A pipe that the parent makes before its first worker, and whose end tells workers to end."""

    def __init__(self, method: str) -> None:
        """``method``: how workers are started. Only a fork inherits a pipe; a process that is
        spawned is told of its parent by the system."""
        self._ends = os.pipe() if method == "fork" else None

    def hold(self) -> None:
        """In a worker: end this process at once when the parent is gone."""
        if self._ends is not None:
            os.close(self._ends[1])
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        if self._ends is not None:
            os.read(self._ends[0], 1)  # returns when the last writing end is closed
        elif parent := multiprocessing.parent_process():
            wait([parent.sentinel])
        os._exit(1)  # whatever it is at: nobody waits for the answer

    def cut(self) -> None:
        """In the parent: let go of the pipe, when all workers have ended."""
        if self._ends is not None:
            for end in self._ends:
                os.close(end)
