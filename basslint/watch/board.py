"""What stands in each song now, and what is new and gone since the check before?"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from typing import Literal

from basslint.report.section import Section
from basslint.util.records import field, record, replace
from basslint.watch.orders import Source

Why = Literal["export", "settings", "statement"]
Mood = Literal["ready", "checking", "waiting", "trouble"]


@record(kw_only=True)
class Change:
    """What a check found otherwise than the one before: ids of ``new`` findings, ``gone`` ones in
    words, how many ``stand``; ``clock``: when, ``why``: what was changed."""

    new: tuple[str, ...]
    gone: tuple[str, ...]
    stand: int
    clock: str
    why: Why

    @property
    def words(self) -> str:
        """``1 new, 2 gone, 5 stand``."""
        return f"{len(self.new)} new, {len(self.gone)} gone, {self.stand} stand"


@record(kw_only=True)
class Standing:
    """A song as it stands: where it comes from, its share of the page, a number that grows with
    each check, the key of the last one, and what that changed (None for the first)."""

    source: Source
    section: Section
    version: int
    key: str
    change: Change | None = None

    @property
    def is_dropped(self) -> bool:
        """Whether it was dropped on the page and is no file of the folder."""
        return self.source.data is not None


@record
class State:
    """What goes on, in a word and in plain sentences."""

    mood: Mood
    words: str


_BEGINNING = State("checking", "Looking for songs …")


def change(before: Section, after: Section, why: Why) -> Change:
    """What is otherwise in a song; findings are known by the fingerprint in their ids."""
    old = {entry.lead: entry for entry in before.entries}
    new = {entry.lead for entry in after.entries}
    return Change(
        new=tuple(e.lead for e in after.entries if e.lead not in old),
        gone=tuple(e.rest for e in before.entries if e.lead not in new),
        stand=len(new & set(old)),
        clock=time.strftime("%H:%M:%S"),
        why=why,
    )


@record(frozen=False)
class Board:
    """All songs by id, and what goes on. Whoever listens is told that something changed, not what:
    he who comes late, or sleeps, loses nothing."""

    songs: dict[str, Standing] = field(default_factory=dict)
    state: State = _BEGINNING
    remarks: tuple[str, ...] = ()
    version: int = 0
    frame: int = 0  # grows when anything but the state changes
    _listeners: set[asyncio.Event] = field(default_factory=set)

    def put(self, source: Source, section: Section, key: str, why: Why) -> Standing:
        """A song was checked."""
        before = self.songs.get(source.id)
        if before and not before.key and before.section == section and why == "export":
            # it was written again while it was checked, and is the same: what changed still holds
            made = self.songs[source.id] = replace(before, key=key)
            return made
        self.version += 1
        made = Standing(
            source=source,
            section=section,
            version=self.version,
            key=key,
            change=change(before.section, section, why) if before else None,
        )
        self.songs[source.id] = made
        self.frame += 1
        self.rouse()
        return made

    def take(self, ident: str) -> None:
        """A song is no more."""
        if self.songs.pop(ident, None) is not None:
            self.frame += 1
            self.rouse()

    def say(self, mood: Mood, words: str) -> None:
        """What goes on is this."""
        if (state := State(mood, words)) != self.state:
            self.state = state
            self.rouse()

    def remark(self, remarks: Sequence[str]) -> None:
        """What was left out of the folder, and which waivers are over, in sentences."""
        if tuple(remarks) != self.remarks:
            self.remarks = tuple(remarks)
            self.frame += 1
            self.rouse()

    def listen(self) -> asyncio.Event:
        """An event that is set at every change; hand it back with `leave`."""
        event = asyncio.Event()
        self._listeners.add(event)
        return event

    def leave(self, event: asyncio.Event) -> None:
        """No longer tell this one."""
        self._listeners.discard(event)

    def rouse(self) -> None:
        """Have everybody who listens look again."""
        for event in self._listeners:
            event.set()
