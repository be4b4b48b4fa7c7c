"""The process that follows: server, follower and terminal side by side, until an interrupt."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import signal
import socket
import threading
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import TextIO

import uvicorn

from basslint.checking.book import book_for
from basslint.errors import BasslintError
from basslint.rulebook.model import Rule
from basslint.settings.run_options import RunOptions
from basslint.watch.board import Board
from basslint.watch.client import Checker
from basslint.watch.follow import Follower
from basslint.watch.guard import TOKEN_BYTES, Guard
from basslint.watch.handing import Handing
from basslint.watch.lines import tell
from basslint.watch.plan import LOOPBACK, Plan
from basslint.watch.screen import show
from basslint.watch.server import Server

_LAST_S = 1  # in which open answers end


class _Server(uvicorn.Server):
    """A server that leaves signals to the session."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Capture none."""
        yield


async def session(plan: Plan, bound: socket.socket, stream: TextIO) -> None:
    """Follow, serve and tell; ends at an interrupt, workers included."""
    over = asyncio.Event()
    board, checker = Board(), Checker()
    checker.start()
    port = bound.getsockname()[1]
    token = secrets.token_urlsafe(TOKEN_BYTES)
    address = f"http://{LOOPBACK}:{port}/?token={token}"
    follower = Follower(plan.root, plan.options, board, checker)
    rules = _Rules(plan.options, plan.root)
    handing = Handing(plan.root, board, checker, follower, rules)
    server = Server(board, rules, handing.routes())
    serving = _Server(
        uvicorn.Config(
            Guard(server.app(), port, token),
            log_level="critical",
            access_log=False,
            lifespan="off",
            ws="none",
            http="h11",
            loop="asyncio",
            server_header=False,
            timeout_graceful_shutdown=_LAST_S,
        )
    )
    try:
        with _interrupts(over):
            jobs = [
                asyncio.create_task(serving.serve([bound])),
                asyncio.create_task(follower.run()),
                asyncio.create_task((tell if plan.text else show)(plan, board, address, stream)),
            ]
            if plan.opens:
                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
            ended = asyncio.create_task(over.wait())
            await asyncio.wait([*jobs, ended], return_when=asyncio.FIRST_COMPLETED)
            server.end()
            serving.should_exit = True
            for job in jobs[1:]:
                job.cancel()
            results = await asyncio.gather(*jobs, return_exceptions=True)
            for result in results:
                if isinstance(result, Exception):
                    raise result
    finally:
        handing.drops.end()
        await asyncio.to_thread(handing.binder.stop)
        await asyncio.to_thread(checker.stop)


class _Rules:
    """The rules whose pages may be asked for; those of before while the settings are wrong."""

    def __init__(self, options: RunOptions, root: Path) -> None:
        self._options = options
        self._any = root / "any.mid" if root.is_dir() else root
        self._last: tuple[Rule, ...] = ()

    def __call__(self) -> tuple[Rule, ...]:
        with contextlib.suppress(BasslintError):
            settings = self._options.settings_of(self._any)
            self._last = self._options.choose(settings, book_for(settings))
        return self._last


@contextlib.contextmanager
def _interrupts(over: asyncio.Event) -> Iterator[None]:
    """An interrupt, or being asked to end, sets the event; a second one ends at once."""
    loop = asyncio.get_running_loop()

    def end(_signal: int, _frame: FrameType | None) -> None:
        for sign in before:
            signal.signal(sign, before[sign])
        loop.call_soon_threadsafe(over.set)

    before = {sign: signal.getsignal(sign) for sign in (signal.SIGINT, signal.SIGTERM)}
    for sign in before:
        signal.signal(sign, end)
    try:
        yield
    finally:
        for sign, handler in before.items():
            signal.signal(sign, handler)
