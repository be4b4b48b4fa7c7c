"""What did an earlier run find in just this file by just these rules, or read on just these pages?

An entry is a file of two lines: a checksum of its key and its body, and the body, an outcome or a
book of rules as JSON. It is found by a hash of all that it depends on, so it is never out of date,
only out of use; what was used longest ago goes when the cache is full. Whatever is damaged,
missing, under another entry's name, of another shape or not allowed, is found out anew. Hashes and
JSON are imported where they are asked, since a run without a cache passes through here, too.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from basslint import __version__
from basslint.batch.entries import outcome_of
from basslint.batch.job import Job, Order, Outcome
from basslint.checking.book import book_of
from basslint.checking.members import group_bytes
from basslint.rulebook.model import Rule
from basslint.rulebook.pages import Page, any_plugged, mark_of
from basslint.rulebook.stored import book_from
from basslint.util.files import is_file, read_at_most
from basslint.util.records import fields_of

MOST_BYTES = 256 * 1024**2  # a few thousand songs in the largest format
MOST_ENTRY_BYTES = 32 * 1024**2  # the longest page of one song has a tenth of that
_MOST_LOOP_BYTES = 512 * 1024**2  # ten minutes of stereo at 96 kHz in four bytes
R = TypeVar("R")

_SHAPE = 2  # of an entry; a new one is not read by the code of an old one
_BOOKS = "books"  # the folder of books; no outcome's is called so, by the two digits of its key
_MINE_ALONE = 0o700  # mode of the folder: an entry is trusted as far as whoever can write it


def folder() -> Path | None:
    """Where entries lie: `basslint` in the user's cache folder, wherever the system keeps it.

    An absolute XDG_CACHE_HOME holds everywhere (XDG Base Directory Specification). None where the
    user has no home.
    """
    named = os.environ.get("XDG_CACHE_HOME", "")
    if Path(named).is_absolute():
        return Path(named) / "basslint"
    if sys.platform in ("darwin", "win32"):  # its import costs a start on Linux more than it tells
        from platformdirs import user_cache_path

        return user_cache_path("basslint", appauthor=False)
    home = os.path.expanduser("~")  # noqa: PTH111  # Path raises where there is none
    return Path(home, ".cache", "basslint") if Path(home).is_absolute() else None


class Cache:
    """Outcomes of earlier runs, and books. A cache that cannot be used is empty and forgets.

    Nor is one used whose folder is another user's, or is open to others and cannot be closed.
    """

    def __init__(self, root: Path, most_bytes: int = MOST_BYTES) -> None:
        self.root = root
        self.most_bytes = most_bytes
        self.grown = False
        self.read: dict[Path, tuple[tuple[Page, ...], tuple[Rule, ...]]] = {}
        self.usable = _is_mine_alone(root)

    def get(self, key: str) -> Outcome | None:
        """The outcome of a key, None where there is none that is whole."""
        return self._read(self._path(key), key, outcome_of)

    def put(self, key: str, outcome: Outcome) -> None:
        """Keep an outcome, in one step."""
        self._write(self._path(key), key, outcome)

    def book_of(self, pages: tuple[Page, ...]) -> tuple[Rule, ...]:
        """The rules of pages, kept from an earlier run or read. Raises `RuleError`.

        Not kept where a plug-in was loaded: what pages may name depends on its code, too.
        """
        if any_plugged():
            return book_of(pages)
        key = _digest(repr((_SHAPE, *_build(), mark_of(pages))).encode())
        path = self.root / _BOOKS / key
        book = self._read(path, key, book_from)
        if book is None:
            book = book_of(pages)
            self._write(path, key, book)
        else:
            self.read[path] = pages, book
        return book

    def has_misled(self) -> bool:
        """Whether a book that was found here is not what its pages say; such a one is let go of.

        Only the kinds of its values were looked at when it was read: what readings there are, no
        run knows that finds its songs here, too.
        """
        wrong = [path for path, (pages, book) in self.read.items() if book != book_of(pages)]
        for path in wrong:
            with contextlib.suppress(OSError):
                path.unlink()
        return bool(wrong)

    def _read(self, path: Path, key: str, read: Callable[[object], R]) -> R | None:
        """What an entry holds, None where it is not whole; ``read`` raises where it is no such
        thing."""
        import json

        try:
            entry = read_at_most(path, MOST_ENTRY_BYTES + 1, follow=False) if self.usable else b""
            checksum, _, body = entry.partition(b"\n")
            if len(entry) > MOST_ENTRY_BYTES or checksum.decode("ascii") != _seal(key, body):
                return None
            held = read(json.loads(body))
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            return None
        with contextlib.suppress(OSError):
            os.utime(path)  # used today: it goes last
        return held

    def _write(self, path: Path, key: str, held: object) -> None:
        """Write an entry, in one step."""
        import json

        body = json.dumps(held, separators=(",", ":"), default=fields_of).encode("ascii")
        if not self.usable or len(body) >= MOST_ENTRY_BYTES - 100:  # the checksum stands before it
            return
        import tempfile  # a run that finds all it needs is spared it

        temporary = ""
        try:
            self.root.mkdir(mode=_MINE_ALONE, parents=True, exist_ok=True)
            path.parent.mkdir(mode=_MINE_ALONE, exist_ok=True)
            descriptor, temporary = tempfile.mkstemp(dir=path.parent, suffix=".tmp")
            with os.fdopen(descriptor, "wb") as file:
                file.write(_seal(key, body).encode("ascii") + b"\n" + body)
            os.replace(temporary, path)  # noqa: PTH105  # one step, on every system
            self.grown = True
        except OSError:
            if temporary:
                with contextlib.suppress(OSError):
                    Path(temporary).unlink()

    def trim(self) -> None:
        """Let go of what was used longest ago, if more is kept than is allowed."""
        if not self.grown:
            return
        kept: list[tuple[float, int, str]] = []
        for top, _, files in os.walk(self.root):
            for name in files:
                with contextlib.suppress(OSError):
                    state = os.stat(os.path.join(top, name))  # noqa: PTH116, PTH118  # many
                    kept.append((state.st_mtime, state.st_size, os.path.join(top, name)))  # noqa: PTH118
        over = sum(size for _, size, _ in kept) - self.most_bytes
        for _, size, path in sorted(kept):
            if over <= 0:
                break
            with contextlib.suppress(OSError):
                Path(path).unlink()
            over -= size

    def _path(self, key: str) -> Path:
        return self.root / key[:2] / key[2:]


def key_of(job: Job, order: Order, song: Path) -> str | None:
    """A hash of all that the outcome of a song depends on; None where it cannot be read."""
    try:
        if song.is_dir():
            content = group_bytes(song, order.settings)
        else:
            content = read_at_most(song, order.settings.limits.max_bytes + 1)
    except OSError:
        return None
    settings = order.settings
    sounds = (settings.facts.sound, *(s.file for s in settings.part_sounds))
    entry = (
        _SHAPE,
        *_build(),
        job.format,
        _looks() if job.sheet.terminal else (),
        job.sheet_for(settings),
        str(song),
        str(Path.cwd()) if job.format == "sarif" and song.is_absolute() else "",
        settings.facts,
        # a problem of what is stated says by whom
        [(s.key, s.source) for s in settings.stated if s.key.startswith("facts.")],
        settings.part_sounds,
        [_state(sound) for sound in sounds if sound],
        [_loop(loop.file) for loop in settings.facts.loops],
        settings.limits,
        settings.plug_ins,
        [(waiver, waiver.is_over(job.today)) for waiver in settings.waivers],
        settings.name_of(song) if settings.waivers else "",
        order.mark,
    )
    return _digest(repr(entry).encode("utf-8", "backslashreplace") + b"\0" + content)


def _is_mine_alone(root: Path) -> bool:
    """Whether nobody else can write to a folder; one that was left open to others is closed."""
    try:
        state = root.stat()
        if not hasattr(os, "geteuid"):  # Windows: the user's own folders are closed to others
            return True
        if state.st_uid != os.geteuid():
            return False
        if state.st_mode & 0o077:
            root.chmod(_MINE_ALONE)
    except FileNotFoundError:
        return True  # it will be made
    except OSError:
        return False
    return True


def _digest(data: bytes) -> str:
    import hashlib

    return hashlib.sha256(data).hexdigest()


def _seal(key: str, body: bytes) -> str:
    """The checksum of an entry, which is of no use under another key."""
    return _digest(key.encode("ascii") + b"\n" + body)


def _build() -> tuple[object, ...]:
    """What program an entry is of."""
    return __version__, _code(), sys.version_info[:3]


@lru_cache(1)
def _code() -> str:
    """A hash over names, sizes and times of the package's own files: in a checkout the code
    changes while its version stays."""
    home = Path(__file__).parents[1]  # the whole package
    seen = []
    for top, folders, files in os.walk(home):
        folders[:] = [f for f in folders if f != "__pycache__"]
        for name in files:
            state = os.stat(os.path.join(top, name))  # noqa: PTH116, PTH118  # a hundred at each start
            seen.append((name, state.st_size, state.st_mtime_ns))
    return _digest(repr(sorted(seen)).encode())


def _looks() -> tuple[str | None, ...]:
    """What a terminal's colours depend on."""
    return tuple(os.environ.get(n) for n in ("TERM", "COLORTERM", "NO_COLOR", "FORCE_COLOR"))


def _state(path: str) -> tuple[str, int, int]:
    try:
        state = Path(path).stat()
    except OSError:
        return path, 0, 0
    return path, state.st_size, state.st_mtime_ns


def _loop(path: str) -> tuple[object, ...]:
    """A loop by its bytes: the same sample may be exported again, or be copied with a new time.
    What is no file, or longer than a loop, is refused whatever it holds, and not waited for."""
    import hashlib

    try:
        if not is_file(Path(path)) or Path(path).stat().st_size > _MOST_LOOP_BYTES:
            return _state(path)
        with Path(path).open("rb") as file:
            return path, hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return path, ""
