"""What does the page ask for, and what is it given? By ids: no path from a request is opened."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Sequence
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from basslint.rulebook.model import Rule
from basslint.watch import page
from basslint.watch.board import Board

BEAT_S = 15.0  # a line now and then tells both sides that the other is there
MOST_WORDS = 1 << 20  # bytes of a request that is no upload


class Server:
    """Answers the page's requests from the board."""

    def __init__(
        self, board: Board, rules: Callable[[], tuple[Rule, ...]], others: Sequence[Route] = ()
    ) -> None:
        self.board, self.rules, self.others = board, rules, others
        self.ending = asyncio.Event()

    def app(self) -> Starlette:
        """All that is served."""
        return Starlette(
            routes=[
                Route("/", self.whole),
                Route("/events", self.events),
                Route("/pieces", self.pieces, methods=["POST"]),
                *self.others,
            ]
        )

    async def whole(self, request: Request) -> Response:
        """The page."""
        text = page.page(self.board, self.rules(), request.query_params.get("song", ""))
        headers = {"content-security-policy": page.page_policy() + "; frame-ancestors 'none'"}
        return HTMLResponse(text, headers=headers)

    async def pieces(self, request: Request) -> Response:
        """What of the page is new."""
        wish = await words_of(request)
        shown, asked = (
            [str(i) for i in wish.get(name, [])] if isinstance(wish.get(name), list) else []
            for name in ("shown", "asked")
        )  # fmt: skip
        return JSONResponse(page.pieces(self.board, self.rules(), shown, asked))

    async def events(self, request: Request) -> Response:
        """Server-sent events: what goes on, and the version of each song."""
        headers = {"x-accel-buffering": "no"}
        return StreamingResponse(self._words(), media_type="text/event-stream", headers=headers)

    async def _words(self) -> AsyncIterator[str]:
        changed = self.board.listen()
        try:
            yield _event(self.board)
            while not self.ending.is_set():
                try:
                    await asyncio.wait_for(changed.wait(), BEAT_S)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                changed.clear()
                if not self.ending.is_set():
                    yield _event(self.board)
            yield "event: end\ndata: {}\n\n"
        finally:
            self.board.leave(changed)

    def end(self) -> None:
        """Say goodbye to every page."""
        self.ending.set()
        self.board.rouse()


def _event(board: Board) -> str:
    word = {
        "songs": [(s.source.id, s.version) for s in board.songs.values()],
        "mood": board.state.mood,
        "words": board.state.words,
        "frame": board.frame,
    }
    return f"event: word\ndata: {json.dumps(word)}\n\n"


async def words_of(request: Request) -> dict[str, Any]:
    """The JSON object of a request; empty where it is none. One that is too long is refused."""
    data = await bytes_of(request, MOST_WORDS)
    if data is None:
        raise HTTPException(413, "That is too long.", {"connection": "close"})
    try:
        found = json.loads(data or b"{}")
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


async def bytes_of(request: Request, most: int) -> bytes | None:
    """The body of a request; None where it is larger than ``most``, of which no more is read."""
    pieces, size = [], 0
    async for piece in request.stream():
        size += len(piece)
        if size > most:
            return None
        pieces.append(piece)
    return b"".join(pieces)
