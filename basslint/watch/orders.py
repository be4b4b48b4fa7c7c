"""What does the page ask of the process that checks, and what does that answer?

Plain frozen records: they travel between processes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from basslint.batch.job import Outcome
from basslint.settings.model import name_below
from basslint.settings.run_options import RunOptions
from basslint.util.records import record
from basslint.watch.statement import NOTHING, Statement

Signature = tuple[tuple[int, int, int], ...]  # of each file: time in ns, size in bytes, number


@record(kw_only=True)
class Source:
    """What is checked: the file or group at ``path``, or ``data`` that was dropped on the page and
    is only called so. ``options``: what is stated of it, by the ``statement`` of the page among
    others; ``home``: the path whose settings hold."""

    id: str
    path: Path
    home: Path
    options: RunOptions
    data: bytes | None = None
    statement: Statement = NOTHING


def lines_of(source: Source) -> str:
    """The lines of a settings file that state of a song what the page states of it."""
    folder = None if source.data is not None else source.options.settings_of(source.home).folder
    return source.statement.lines(name_below(folder, source.path))


@record
class Scan:
    """Which songs are there? ``roots``: the folder or file that is followed."""

    roots: tuple[Path, ...]
    options: RunOptions


@record
class Check:
    """What is off in a song? ``known``: the key of what is known of it, empty where nothing is."""

    source: Source
    known: str = ""


@record(kw_only=True)
class Make:
    """A file to take away: the song ``mended`` (by ear too), its ``guide`` of roots, an
    ``audition`` of it as written, or as mended; or what the page asks for: the ``nudges`` of the
    note of a ``finding`` (its id) as JSON, the rule ``book`` that holds for the song."""

    source: Source
    what: Literal["mended", "guide", "audition", "nudges", "book"]
    by_ear: bool = False
    mended: bool = False
    finding: str = ""


@record
class Scanned:
    """Songs with their signatures, plain sentences on what was left out and on waivers that are
    over, and other files that answers depend on: settings, house rules, sounds."""

    songs: tuple[tuple[Path, Signature], ...]
    remarks: tuple[str, ...]
    others: tuple[Path, ...]


@record
class Checked:
    """The outcome of a check; ``key`` is a hash of all that it depends on, empty where that
    changed meanwhile."""

    outcome: Outcome
    key: str


@record
class Same:
    """Nothing that the outcome depends on has changed: its key is the one that is known."""

    key: str


@record
class Made:
    """The bytes of a file that was asked for; ``targets``: what is written where, for copies that
    belong beside files of the folder; ``words``: what is to be said of it."""

    data: bytes
    targets: tuple[tuple[Path, bytes], ...] = ()
    words: str = ""


@record
class Refused:
    """Why there is no answer: what happened, and what to do next."""

    message: str
    advice: str = ""

    @property
    def words(self) -> str:
        """Both in a row."""
        return f"{self.message} {self.advice}".rstrip()


Order = Scan | Check | Make
Answer = Scanned | Checked | Same | Made | Refused
