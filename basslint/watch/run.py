"""How is a folder followed from the first look to Ctrl-C?"""

from __future__ import annotations

import asyncio
import contextlib
import shlex
import socket
import sys
from importlib.util import find_spec
from typing import TextIO

from basslint.errors import UsageError
from basslint.watch.plan import LOOPBACK, Plan

_NEEDED = ("starlette", "uvicorn", "watchfiles")


def follow(plan: Plan, stream: TextIO) -> None:
    """Follow and serve until an interrupt. Raises `UsageError`."""
    if any(find_spec(name) is None for name in _NEEDED):
        python = shlex.quote(sys.executable)  # a bare `pip` may be that of another environment
        raise UsageError(
            f"`basslint watch` needs its extra: {python} -m pip install 'basslint[watch]'"
        )
    if not plan.root.exists():
        raise UsageError(f"{plan.root} does not exist.", "Check the spelling of the path.")
    with contextlib.closing(_bound(plan.port)) as bound:
        from basslint.watch.session import session

        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(session(plan, bound, stream))


def _bound(port: int) -> socket.socket:
    """A socket of this machine alone. Raises `UsageError` where its port is taken."""
    bound = socket.socket()
    try:
        bound.bind((LOOPBACK, port))
    except OSError as error:
        bound.close()
        raise UsageError(
            f"--port: {port} cannot be used: {error.strerror}.",
            "Another program may have it: name another, or leave --port out.",
        ) from None
    return bound
