"""How does the page's process have songs checked without ever waiting for them itself?"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import signal
import threading
from collections.abc import AsyncIterator, Iterator, Sequence
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from basslint.watch.checker import serve
from basslint.watch.orders import Answer, Order, Refused

_GRACE_S = 3.0  # in which the process ends its workers and itself, before it is ended

_DIED = Refused("The process that checks has died.", "It was started again: export once more.")


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """What is started in here ignores interrupts from its first moment on: that is inherited."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class Checker:
    """The process that checks. It is started when first needed, and again when it died."""

    def __init__(self) -> None:
        self._turn = asyncio.Lock()  # one batch at a time; others wait for their turn
        self._process: BaseProcess | None = None
        self._link: Connection | None = None

    def start(self) -> None:
        """Start the process; an interrupt of the terminal does not reach it."""
        context = multiprocessing.get_context("spawn")  # not fork: there are threads here
        self._link, theirs = context.Pipe()
        process = context.Process(target=serve, args=(theirs,), name="basslint checks")
        with _uninterrupted():
            process.start()
        theirs.close()
        self._process = process

    async def ask(self, orders: Sequence[Order]) -> AsyncIterator[tuple[int, Answer]]:
        """(Place among the orders, answer) as answers come; every order gets one."""
        answers: asyncio.Queue[tuple[int, Answer] | None] = asyncio.Queue()
        # a task of its own: who asked may leave, and the next one must not get these answers
        exchange = asyncio.create_task(self._exchange(list(orders), answers))
        while (answer := await answers.get()) is not None:
            yield answer
        await exchange

    async def _exchange(
        self, orders: list[Order], answers: asyncio.Queue[tuple[int, Answer] | None]
    ) -> None:
        async with self._turn:
            waiting = set(range(len(orders)))
            try:
                link = self._open()
                await asyncio.to_thread(link.send, orders)
                while (answer := await asyncio.to_thread(link.recv)) is not None:
                    waiting.discard(answer[0])
                    answers.put_nowait(answer)
            except (EOFError, OSError):
                self._forget()
            for place in sorted(waiting):
                answers.put_nowait((place, _DIED))
            answers.put_nowait(None)

    async def one(self, order: Order) -> Answer:
        """The answer to a single order."""
        return [answer async for _, answer in self.ask([order])][-1]

    def stop(self) -> None:
        """End the process and its workers."""
        process, self._process = self._process, None
        if self._link is not None:
            with contextlib.suppress(OSError):
                self._link.close()
        if process is None:
            return
        process.terminate()  # it ends its workers on the way out
        process.join(_GRACE_S)
        if process.is_alive():
            process.kill()
            process.join(_GRACE_S)

    def _open(self) -> Connection:
        if self._process is None or not self._process.is_alive():
            self.start()
        assert self._link is not None
        return self._link

    def _forget(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join(_GRACE_S)
        self._process = None
