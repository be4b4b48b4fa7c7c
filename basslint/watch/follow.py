"""When is a song checked again? After every export, once it is whole, and never twice for a burst.

What the system tells of changes only wakes: what has changed is seen in the folder itself, so that
nothing is lost that was not told, and a burst of saves is one look.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from pathlib import Path

from watchfiles import Change as FileChange
from watchfiles import awatch

from basslint.batch.stems import stems_apart
from basslint.report.formats.html import anchor
from basslint.settings.run_options import RunOptions
from basslint.util.files import SOUND_SUFFIXES, SUFFIXES
from basslint.watch.board import Board, Why
from basslint.watch.checker import settings_files, signature
from basslint.watch.client import Checker
from basslint.watch.orders import Check, Checked, Refused, Scan, Scanned, Signature, Source

LOOK_S = 0.06  # a file that is the same in two looks so far apart is not being written
LONGEST_LOOK_S = 2.0  # … but a folder that is written all the time is looked at now and then
PATIENCE_S = 4.0  # a damaged file that was written just now is taken for half an export so long
RECENT_S = 10.0  # … if its time says that it was
MISSED_S = 1.0  # some programs delete a file before they write it anew
POLL_S = 0.5  # settings and sounds outside the folder, and whether the folder is there at all
LOT = 8  # songs checked in one go: between two lots others may ask for something
HALF = ("truncated", "damaged", "not-midi", "unreadable")  # as a half-written file may look
_OTHERS = (".toml", ".md", *SOUND_SUFFIXES)


class Follower:
    """Keeps the board true of a folder or a file."""

    def __init__(self, root: Path, options: RunOptions, board: Board, checker: Checker) -> None:
        self.root, self.options = root, options
        self.board, self.checker = board, checker
        self.wake = asyncio.Event()
        # songs of which something is stated, or that were dropped
        self._wanted: dict[str, Source] = {}
        self._seen: dict[Path, Signature] = {}
        self._others: dict[Path, Signature] = {}
        self._doubted: dict[Path, tuple[Signature, float]] = {}  # half written, since when
        self._missed: dict[Path, float] = {}
        self._trouble = ""
        self._last = ""  # id of the song that was exported last
        self._again = asyncio.Event()  # listen anew
        self._place = _place(root)

    async def run(self) -> None:
        """Follow for ever."""
        self.wake.set()
        async with asyncio.TaskGroup() as group:
            group.create_task(self._listen())
            group.create_task(self._poll())
            while True:
                await self.wake.wait()
                self.wake.clear()
                await self._round()

    async def _listen(self) -> None:
        """Wake at once where the system tells of a change; `_poll` sees to all others."""
        is_file = not self.root.is_dir()
        home = self.root.parent if is_file else self.root
        while True:
            # called once it listens: what was saved between two listenings was told to nobody
            looked = asyncio.get_running_loop().call_soon(self.wake.set)
            try:
                async for _ in awatch(
                    home, watch_filter=_matters, debounce=300, step=20, recursive=not is_file,
                    stop_event=self._again,
                ):  # fmt: skip
                    self.wake.set()
            except (OSError, RuntimeError):
                looked.cancel()  # there is nothing to look at
            self._again.clear()
            await asyncio.sleep(POLL_S)

    async def _poll(self) -> None:
        while True:
            await asyncio.sleep(POLL_S)
            others = await asyncio.to_thread(_signed, tuple(self._others))
            if (standing := _place(self.root)) != self._place:
                self._place = standing
                self._again.set()  # the system does not tell of a folder that was put in its place
                self.wake.set()
            if others != self._others:
                self.wake.set()

    async def _round(self) -> None:
        scanned = await self.checker.one(Scan((self.root,), self.options))
        if isinstance(scanned, Refused):
            if scanned.words != self._trouble:
                self._place = -1  # however soon a folder that was gone is back, it is another one
            self._trouble = scanned.words
            self._others = _signed(tuple(settings_files((self.root,))))
            self._seen.clear()
            self.board.say("trouble", self._trouble)
            return
        assert isinstance(scanned, Scanned)
        others = _signed(scanned.others)
        why: Why = "export"
        if others != self._others:  # which songs that concerns, the keys of their outcomes know
            back = self._trouble and not self._seen  # the folder was gone: its songs come anew
            known, self._others = self._others, others
            self._seen.clear()
            if known:
                why = "export" if back else "settings"
                await self._check_dropped()
        self._let_go({path for path, _ in scanned.songs})
        changed = {p: s for p, s in scanned.songs if self._seen.get(p) != s}
        self._remark(scanned)
        if changed:
            self.board.say("checking", _checking(changed))
            await self._steady(changed)
            self._trouble = await self._check(changed, why)
            self._remark(scanned)
        elif not self._seen:
            self._trouble = ""
        self._rest(len(scanned.songs))

    def _remark(self, scanned: Scanned) -> None:
        """Say what holds for the folder, as far as its songs are checked."""
        known = [s for s in self.board.songs.values() if not s.is_dropped]
        apart = stems_apart([(s.source.path, s.section) for s in known], "basslint watch")
        self.board.remark((*scanned.remarks, *apart))

    def _rest(self, songs: int) -> None:
        """Say that all is done, unless something is waited for."""
        if self._trouble:
            self.board.say("trouble", self._trouble)
        elif self._doubted:
            names = ", ".join(path.name for path in self._doubted)
            self.board.say("waiting", f"{names} is not whole yet: waiting for the rest of it.")
        else:
            words = f"No MIDI file in {self.root} yet: export one into it."
            if songs:
                words = f"Following {self.root}; last look {time.strftime('%H:%M:%S')}."
                words += self._news()
            self.board.say("ready", words)

    def _news(self) -> str:
        """What the last export changed, in words."""
        ident, known = self._last, self.board.songs
        change = known[ident].change if ident in known else None
        return f" {known[ident].source.path.name}: {change.words}." if change else ""

    async def _steady(self, changed: dict[Path, Signature]) -> None:
        """Wait until nothing is written any more; the signatures are those of then."""
        until = time.monotonic() + LONGEST_LOOK_S
        plain = [path for path in changed if not path.is_dir()]
        while time.monotonic() < until:
            before = [changed[path] for path in plain]
            await asyncio.sleep(LOOK_S)
            for path in plain:
                changed[path] = signature((path,))
            if before == [changed[path] for path in plain]:
                return

    async def _check(self, changed: dict[Path, Signature], why: Why) -> str:
        """Check songs, those written last first. What kept some from being checked, in words."""
        newest = sorted(changed, key=lambda path: max(changed[path]), reverse=True)
        trouble = ""
        for at in range(0, len(newest), LOT):
            lot = newest[at : at + LOT]
            orders = [self._order(path) for path in lot]
            async for place, answer in self.checker.ask(orders):
                path = lot[place]
                if isinstance(answer, Refused):
                    trouble = trouble or answer.words
                    self._seen[path] = changed[path]
                elif isinstance(answer, Checked):
                    self._take(orders[place].source, changed[path], answer, why)
                else:
                    self._settle(path, changed[path])
            if self.wake.is_set():
                break  # what is left is still unseen, and the next round's
        return trouble

    async def check(self, source: Source, why: Why) -> None:
        """Check a song at once: it was dropped, or something was stated of it."""
        self._wanted[source.id] = source
        answer = await self.checker.one(Check(source))
        if self._wanted.get(source.id) is not source:
            return  # it is off the page, or more was stated of it meanwhile
        if isinstance(answer, Checked):
            self.board.put(source, answer.outcome.section, answer.key, why)
        elif isinstance(answer, Refused):
            self.board.say("trouble", answer.words)

    def source(self, ident: str) -> Source | None:
        """A song of the page, with what was stated of it last; None for one that is not there."""
        known = self.board.songs.get(ident)
        return self._wanted.get(ident) or (known.source if known else None)

    def forget(self, ident: str) -> None:
        """A song leaves the page."""
        self._wanted.pop(ident, None)
        self.board.take(ident)

    async def _check_dropped(self) -> None:
        for standing in tuple(self.board.songs.values()):
            if standing.is_dropped:
                await self.check(standing.source, "settings")

    def _order(self, path: Path) -> Check:
        ident = anchor(str(path))
        source = self.source(ident)
        if source is None:
            return Check(Source(id=ident, path=path, home=path, options=self.options))
        known = self.board.songs.get(ident)
        return Check(source, known.key if known else "")

    def _take(self, source: Source, signed: Signature, answer: Checked, why: Why) -> None:
        problem = answer.outcome.section.problem
        if problem is not None and problem.kind in HALF and self._may_grow(source.path, signed):
            return
        if self._wanted.get(source.id, source) is not source:
            return  # more was stated of it meanwhile: it is checked again by that
        self._settle(source.path, signed)
        self._last = source.id
        self.board.put(source, answer.outcome.section, answer.key, why)

    def _settle(self, path: Path, signed: Signature) -> None:
        self._seen[path] = signed
        self._doubted.pop(path, None)

    def _may_grow(self, path: Path, signed: Signature) -> bool:
        """Whether a damaged file is taken for the first half of an export; it is looked at again
        once it has been written to, or patience is over."""
        now = time.monotonic()
        written = max(time_ns for time_ns, _, _ in signed) / 1e9
        if path not in self._doubted and time.time() - written > RECENT_S:
            return False
        since_signature, since = self._doubted.get(path, (signed, now))
        if since_signature != signed:
            since = now  # it grew
        if now - since >= PATIENCE_S:
            return False
        self._doubted[path] = (signed, since)
        self._later(PATIENCE_S - (now - since) + LOOK_S)
        return True

    def _let_go(self, there: set[Path]) -> None:
        """Take songs off the board whose files are gone for good."""
        now = time.monotonic()
        known = {s.source.path for s in self.board.songs.values() if not s.is_dropped}
        for path in known - there:
            self._seen.pop(path, None)
            if now - self._missed.setdefault(path, now) >= MISSED_S:
                del self._missed[path]
                self.forget(anchor(str(path)))
            else:
                self._later(MISSED_S + LOOK_S)
        for path in (*self._missed, *self._doubted):
            if path in there:
                self._missed.pop(path, None)
            else:
                self._doubted.pop(path, None)

    def _later(self, seconds: float) -> None:
        asyncio.get_running_loop().call_later(seconds, self.wake.set)


def _place(root: Path) -> int:
    """Which folder stands there: another number once it was replaced, −1 where none does.

    Of a file, which every export may replace, only whether it is there.
    """
    try:
        state = root.stat()
    except OSError:
        return -1
    return state.st_ino if root.is_dir() else 0


def _matters(_change: FileChange, path: str) -> bool:
    """Whether a song, or what songs are judged by, was written."""
    return path.lower().endswith((*SUFFIXES, *_OTHERS))


def _signed(files: Sequence[Path]) -> dict[Path, Signature]:
    return {path: signature((path,)) for path in files}


def _checking(changed: dict[Path, Signature]) -> str:
    if len(changed) == 1:
        return f"Checking {next(iter(changed)).name} …"
    return f"Checking {len(changed)} songs …"
