"""What is handed in through the page, and what is taken away? All by ids that this process gave."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Literal

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from basslint.errors import BasslintError, MendError, TooLarge, UsageError
from basslint.report.formats.html import anchor
from basslint.rulebook.model import Rule
from basslint.settings.run_options import RunOptions
from basslint.util.files import write_atomically
from basslint.util.records import replace
from basslint.watch.board import Board, Standing
from basslint.watch.client import Checker
from basslint.watch.drops import MOST_SONGS, Drops
from basslint.watch.follow import Follower
from basslint.watch.orders import Made, Make, Refused, Source
from basslint.watch.page import BOOK
from basslint.watch.server import bytes_of, words_of
from basslint.watch.statement import Statement

_TYPES = {"guide": "audio/midi", "audition": "audio/wav", "nudges": "application/json"}
_ASKED: Mapping[str, Literal["guide", "audition", "nudges"]] = {
    "guide": "guide",
    "audition": "audition",
    "nudge": "nudges",
}


class Handing:
    """Takes what is dropped and stated, hands out what is made of a song."""

    def __init__(
        self,
        root: Path,
        board: Board,
        checker: Checker,
        follower: Follower,
        rules: Callable[[], tuple[Rule, ...]],
    ) -> None:
        self._home = root if root.is_dir() else root.parent
        self._board, self._checker, self._follower = board, checker, follower
        self._rules = rules
        self._bound: tuple[tuple[Rule, ...], Made] | None = None  # the book, and of which rules
        self.drops = Drops()
        self._binding = asyncio.Lock()
        self.binder = Checker()  # makes the book, for which no export is to wait

    def routes(self) -> list[Route]:
        """What is asked for, and who answers."""
        return [
            Route("/drop", self.drop, methods=["POST"]),
            Route(BOOK, self.book),
            Route("/song/{id}/sound", self.sound, methods=["POST"]),
            Route("/song/{id}/state", self.state, methods=["POST"]),
            Route("/song/{id}/write", self.write, methods=["POST"]),
            Route("/song/{id}/away", self.away, methods=["POST"]),
            Route("/song/{id}/{what}", self.make, methods=["POST"]),
        ]

    async def drop(self, request: Request) -> Response:
        """A song: it is checked, and the folder is not touched."""
        try:
            path = self.drops.song(request.query_params.get("name", ""))
            home = self._home / "dropped.mid"
            options = self._follower.options
            data = await self._upload(request, options, home)
        except BasslintError as error:
            return refused(error)
        ident = anchor(str(path))
        source = Source(id=ident, path=path, home=home, options=options, data=data)
        known = self._follower.source(ident)
        if known is not None:  # dropped again: what was stated of it still holds
            source = replace(known, data=data)
        self._make_room(ident)
        await self._follower.check(source, "export")
        return JSONResponse({"id": ident})

    async def sound(self, request: Request) -> Response:
        """A loop or a one-shot for a song."""
        source = self._source(request)
        if source is None:
            return _unknown()
        try:
            data = await self._upload(request, source.options, source.home)
            upload = self.drops.sound(request.query_params.get("name", ""), data)
        except BasslintError as error:
            return refused(error)
        source = self._source(request) or source  # more may have been stated meanwhile
        said = source.statement
        if request.query_params.get("as") == "loop":
            self.drops.forget(said.loop)
            said = replace(said, loop=upload)
        else:
            self.drops.forget(said.sound)
            said = replace(said, sound=upload)
        return await self._stated(source, said)

    async def state(self, request: Request) -> Response:
        """What the form says of a song."""
        words = await words_of(request)
        source = self._source(request)
        if source is None:
            return _unknown()
        return await self._stated(source, source.statement.filled(words))

    async def write(self, request: Request) -> Response:
        """The mended copy beside the file, of a song of the folder."""
        standing = self._song(request)
        if standing is None:
            return _unknown()
        if standing.is_dropped:
            return refused(UsageError("It was dropped here and lies in no folder.", "Download it."))
        words = await words_of(request)
        order = Make(source=standing.source, what="mended", by_ear=words.get("by_ear") is True)
        answer = await self._checker.one(order)
        if not isinstance(answer, Made):
            return _refused(answer)
        try:
            for target, data in answer.targets:
                await asyncio.to_thread(write_atomically, target, data)
        except MendError as error:
            return refused(error)
        names = ", ".join(target.name for target, _ in answer.targets)
        return JSONResponse({"words": f"Wrote {names}: {answer.words}."})

    async def make(self, request: Request) -> Response:
        """A file to take away, guide or audition, or what moves of a note would change."""
        standing = self._song(request)
        what = _ASKED.get(request.path_params["what"])
        if standing is None or what is None:
            return _unknown()
        words = await words_of(request)
        order = Make(
            source=standing.source,
            what=what,
            by_ear=words.get("by_ear") is True,
            mended=words.get("mended") is True,
            finding=str(words.get("finding", "")),
        )
        answer = await self._checker.one(order)
        if not isinstance(answer, Made):
            return _refused(answer)
        return Response(answer.data, media_type=_TYPES[what])

    async def book(self, _request: Request) -> Response:
        """The rule book, the house's rules among them; made once for each set of rules."""
        async with self._binding:  # whoever asks meanwhile gets the same one
            rules = self._rules()
            if self._bound is None or self._bound[0] != rules:
                songs = list(self._board.songs.values())
                if not songs:
                    return _unknown()
                try:
                    answer = await self.binder.one(Make(source=songs[0].source, what="book"))
                finally:
                    await asyncio.to_thread(self.binder.stop)
                if not isinstance(answer, Made):
                    return _refused(answer)
                self._bound = rules, answer
        made = self._bound[1]
        headers = {"content-security-policy": f"{made.words}; frame-ancestors 'none'"}
        return HTMLResponse(made.data, headers=headers)

    async def away(self, request: Request) -> Response:
        """A song that was dropped leaves the page."""
        standing = self._song(request)
        if standing is None or not standing.is_dropped:
            return _unknown()
        self._take(standing)
        return JSONResponse({})

    async def _stated(self, source: Source, said: Statement) -> Response:
        """Check a song by what is stated now."""
        base = self._follower.options
        if said == source.statement:
            return JSONResponse({})
        try:
            options = await asyncio.to_thread(said.options, base, source.home)
        except BasslintError as error:
            return refused(error)
        await self._follower.check(replace(source, options=options, statement=said), "statement")
        return JSONResponse({})

    async def _upload(self, request: Request, options: RunOptions, home: Path) -> bytes:
        """The body of a request within the limits of a file. Raises `TooLarge`."""
        most = options.settings_of(home).limits.max_bytes
        length = request.headers.get("content-length", "")
        data = None
        if not (length.isdecimal() and int(length) > most):
            data = await bytes_of(request, most)
        if data is None:
            raise TooLarge(
                f"The file is larger than {most:,} bytes (limit `max_bytes`).",
                "Raise the limit in basslint.toml if it is meant.",
            )
        return data

    def _song(self, request: Request) -> Standing | None:
        return self._board.songs.get(request.path_params["id"])

    def _source(self, request: Request) -> Source | None:
        return self._follower.source(request.path_params["id"])

    def _make_room(self, ident: str) -> None:
        dropped = [s for s in self._board.songs.values() if s.is_dropped and s.source.id != ident]
        for standing in sorted(dropped, key=lambda s: s.version)[: -MOST_SONGS + 1 or None]:
            self._take(standing)

    def _take(self, standing: Standing) -> None:
        source = self._follower.source(standing.source.id) or standing.source
        self.drops.forget(source.statement.loop)
        self.drops.forget(source.statement.sound)
        self._follower.forget(source.id)


def refused(error: BasslintError) -> Response:
    """A refusal in the words of an error. It is an answer as good as any: to a browser's console a
    failed request would be a fault."""
    words = {"wrong": f"{error.message} {error.advice}"}
    if isinstance(error, TooLarge):  # the rest of what is sent is not waited for
        return JSONResponse(words, 413, {"connection": "close"})
    return JSONResponse(words)


def _refused(answer: object) -> Response:
    words = answer.words if isinstance(answer, Refused) else "It could not be made."
    return JSONResponse({"wrong": words})


def _unknown() -> Response:
    return JSONResponse({"wrong": "This song is no longer here. Drop or export it anew."}, 404)
