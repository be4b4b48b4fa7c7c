"""What did an earlier run find in just this file, by just these rules?

An entry is a file of two lines: a checksum, and the outcome as JSON. It is found by a hash of all
that the outcome depends on, so it is never out of date, only out of use; what was used longest ago
goes when the cache is full. Whatever is damaged, missing or not allowed, the file is checked anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import tempfile
from dataclasses import asdict, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

from basslint import __version__
from basslint.batch.job import Job, Order, Outcome
from basslint.checking.group import group_bytes
from basslint.judging.results import Problem, Unjudged
from basslint.report.section import Entry, Section, Tally
from basslint.util.files import read_at_most

MOST_BYTES = 256 * 1024**2  # a few thousand songs in the largest format
_SHAPE = 1  # of an entry; a new one is not read by the code of an old one


def folder() -> Path:
    """Where entries lie: `basslint` in the user's cache folder, wherever the system keeps it.

    An absolute XDG_CACHE_HOME holds everywhere (XDG Base Directory Specification).
    """
    named = os.environ.get("XDG_CACHE_HOME", "")
    if Path(named).is_absolute():
        return Path(named) / "basslint"
    if sys.platform in ("darwin", "win32"):  # its import costs a start on Linux more than it tells
        from platformdirs import user_cache_path

        return user_cache_path("basslint", appauthor=False)
    return Path("~/.cache").expanduser() / "basslint"


class Cache:
    """Outcomes of earlier runs. A cache that cannot be used is empty and forgets."""

    def __init__(self, root: Path, most_bytes: int = MOST_BYTES) -> None:
        self.root = root
        self.most_bytes = most_bytes
        self.grown = False

    def get(self, key: str) -> Outcome | None:
        """The outcome of a key, None where there is none that is whole."""
        path = self._path(key)
        try:
            checksum, _, body = path.read_bytes().partition(b"\n")
            if checksum.decode("ascii") != _digest(body):
                return None
            outcome = _outcome(json.loads(body))
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            return None
        with contextlib.suppress(OSError):
            os.utime(path)  # used today: it goes last
        return outcome

    def put(self, key: str, outcome: Outcome) -> None:
        """Keep an outcome, in one step."""
        path = self._path(key)
        body = json.dumps(asdict(outcome), separators=(",", ":")).encode("ascii")
        temporary = ""
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            descriptor, temporary = tempfile.mkstemp(dir=path.parent, suffix=".tmp")
            with os.fdopen(descriptor, "wb") as file:
                file.write(_digest(body).encode("ascii") + b"\n" + body)
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
    sounds = (settings.facts.sound, *(sound for _, sound in settings.part_sounds))
    entry = (
        _SHAPE,
        __version__,
        _code(),
        sys.version_info[:3],
        job.format,
        _looks() if job.sheet.terminal else (),
        job.sheet_for(settings),
        str(song),
        str(Path.cwd()) if job.format == "sarif" and song.is_absolute() else "",
        settings.facts,
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


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


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


def _loop(path: str) -> tuple[str, str]:
    """A loop by its bytes: the same sample may be exported again, or be copied with a new time."""
    try:
        with Path(path).open("rb") as file:
            return path, hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return path, ""


def _outcome(entry: dict[str, Any]) -> Outcome:
    """An outcome from its JSON. Raises one of the errors that `Cache.get` expects otherwise."""
    section = dict(_table(entry["section"]))
    if set(section) != {f.name for f in fields(Section)}:
        raise ValueError("another shape")
    section["tally"] = Tally(**_table(section["tally"]))
    if section["problem"] is not None:
        section["problem"] = Problem(**_table(section["problem"]))
    section["unjudged"] = tuple(Unjudged(**_table(u)) for u in _list(section["unjudged"]))
    section["entries"] = tuple(Entry(**_table(e)) for e in _list(section["entries"]))
    for name in ("faults", "spoke", "named"):
        section[name] = tuple(_list(section[name]))
    return Outcome(Section(**section), tuple(_list(entry["used"])))


def _table(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("no object")
    return value


def _list(value: object) -> list[Any]:
    if not isinstance(value, list):
        raise TypeError("no list")
    return value
