"""How are many tasks run on a few processes, each bounded in time and memory, in stable order?

Not `concurrent.futures`: there one crashed worker breaks the pool, and a task cannot be given up.
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Generic, TypeVar

from basslint.batch.bounds import (
    LEAVE_OUT,
    MOST_MEMORY,
    RAISE_TIME,
    TOO_MUCH_MEMORY,
    TookTooLong,
    in_memory,
    in_time,
    late,
)
from basslint.util.records import record
from basslint.util.stopped import stopped_by

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

    from basslint.batch.lifeline import Lifeline

T = TypeVar("T")
R = TypeVar("R")

# Measured: a pool pays for itself from about this many small files on (fork 34 ms, check 5–20 ms).
FILES_PER_WORKER = 12
_AHEAD = 2  # tasks at a worker: it has the next one before its answer is taken
_GRACE_S = 2.0  # after its own alarm a worker gets this long before it is ended


@record
class Lost:
    """A task that gave no answer, and why, in words.

    ``advice``: what to do where it passed a limit; empty where the fault is basslint's own.
    """

    reason: str
    advice: str = ""


def worker_count(tasks: int, asked: int | None) -> int:
    """How many processes to use: as asked, or as many as pay for themselves (1: this one)."""
    if asked is not None:
        return max(1, min(asked, tasks))
    return max(1, min(os.cpu_count() or 1, tasks // FILES_PER_WORKER))


def run_all(
    work: Callable[[T], R],
    tasks: Sequence[T],
    jobs: int,
    seconds: Sequence[float],
    memory: int = MOST_MEMORY,
    apart: bool = False,
) -> Iterator[tuple[int, R | Lost]]:
    """Run ``work`` over tasks; yield (place in ``tasks``, answer) as answers come.

    ``seconds`` [tasks]: time that each may take; ``memory``: bytes that a worker may take. With one
    job everything runs in this process, whatever its memory; ``apart``: on a worker all the same.
    An exception of ``work`` becomes a `Lost`.
    """
    if jobs <= 1 and not apart:
        for place, task in enumerate(tasks):
            yield place, _bounded(work, task, seconds[place])
        return
    yield from _Pool(work, tasks, jobs, seconds, memory).run()


def _bounded(work: Callable[[T], R], task: T, seconds: float) -> R | Lost:
    """One task within its time; whatever it raises is its answer."""
    try:
        with in_time(seconds):
            return work(task)
    except MemoryError:
        return Lost(TOO_MUCH_MEMORY, LEAVE_OUT)
    except (Exception, TookTooLong) as error:
        if isinstance(stop := stopped_by(error), TookTooLong):
            return Lost(str(stop), RAISE_TIME)
        return Lost(f"{type(error).__name__}: {error}")


def _serve(
    work: Callable[[T], R],
    tasks: Sequence[T],
    seconds: Sequence[float],
    memory: int,
    link: Connection,
    lifeline: Lifeline,
) -> None:
    """A worker's life: take places from the link, answer each, until None comes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    lifeline.hold()
    gc.freeze()  # what was there before the fork is not garbage, and need not be looked through
    with in_memory(memory), contextlib.suppress(EOFError, OSError):
        while (place := link.recv()) is not None:
            link.send(_bounded(work, tasks[place], seconds[place]))


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """Keep signals waiting: amid a fork they would leave a process that nobody knows of."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@record(frozen=False)
class _Worker:
    """``places``: tasks that it was given and has not answered; it is at the first of them."""

    process: BaseProcess
    link: Connection
    places: deque[int]
    since: float


class _Pool(Generic[T, R]):
    """A few workers that are replaced when they die or hang."""

    def __init__(
        self,
        work: Callable[[T], R],
        tasks: Sequence[T],
        jobs: int,
        seconds: Sequence[float],
        memory: int,
    ) -> None:
        import multiprocessing  # a run over few songs is spared it

        from basslint.batch.lifeline import Lifeline

        self.work, self.tasks, self.jobs = work, tasks, jobs
        self.seconds, self.memory = seconds, memory
        method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
        self.context = multiprocessing.get_context(method)
        self.waiting = deque(range(len(tasks)))
        self.workers: list[_Worker] = []
        self.processes: list[BaseProcess] = []
        self.lifeline = Lifeline(method)

    def run(self) -> Iterator[tuple[int, R | Lost]]:
        try:
            for _ in range(self.jobs):
                self._hire()
            for worker in tuple(self.workers):
                self._give(worker)
            while self.workers:
                yield from self._listen()
        finally:
            for worker in self.workers:
                worker.process.kill()
            for process in self.processes:  # none is left behind, not even as a name in the table
                process.join(_GRACE_S)
            self.lifeline.cut()

    def _hire(self) -> None:
        if not self.waiting:
            return
        if len(self.processes) > self.jobs + 2 * len(self.tasks):
            raise ChildProcessError("workers die as soon as they are started")
        ours, theirs = self.context.Pipe()
        process = self.context.Process(  # type: ignore[attr-defined]  # a context has one
            target=_serve,
            args=(self.work, self.tasks, self.seconds, self.memory, theirs, self.lifeline),
            daemon=True,
        )
        worker = _Worker(process, ours, deque(), time.monotonic())
        with _uninterrupted():
            process.start()
            self.processes.append(process)
            self.workers.append(worker)
        theirs.close()
        self._give(worker, 1)

    def _give(self, worker: _Worker, most: int = _AHEAD) -> None:
        """Give a worker tasks until it has enough; let it go when there are none for it."""
        try:
            while self.waiting and len(worker.places) < most:
                worker.places.append(self.waiting.popleft())
                worker.link.send(worker.places[-1])
            if not worker.places:
                worker.link.send(None)
                self.workers.remove(worker)
        except OSError:  # it answered and died: another one takes its tasks
            self._take_back(worker)

    def _take_back(self, worker: _Worker) -> None:
        """End a worker; what it has not begun waits again, at a new one's."""
        worker.process.kill()
        self.workers.remove(worker)
        self.waiting.extendleft(reversed(worker.places))
        self._hire()

    def _listen(self) -> Iterator[tuple[int, R | Lost]]:
        """Take every answer that is ready; end workers that are dead or long overdue."""
        from multiprocessing.connection import wait

        ready = wait([w.link for w in self.workers], timeout=0.5)
        now = time.monotonic()
        for worker in tuple(self.workers):
            if worker.link in ready:
                try:
                    answer: R | Lost = worker.link.recv()
                except (EOFError, ConnectionResetError):
                    yield worker.places.popleft(), Lost("its process died")
                    self._take_back(worker)
                    continue
                place, worker.since = worker.places.popleft(), time.monotonic()
                self._give(worker)
                yield place, answer
            elif now - worker.since > self.seconds[worker.places[0]] + _GRACE_S:
                place = worker.places.popleft()
                yield place, Lost(late(self.seconds[place]), RAISE_TIME)
                self._take_back(worker)
