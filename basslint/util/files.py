"""How is a file read within bounds, and how does it get new contents without being half written?"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterable
from pathlib import Path

from basslint.errors import MendError

SUFFIXES = (".mid", ".midi")
SOUND_SUFFIXES = (".wav", ".flac", ".aif", ".aiff", ".ogg")  # what is read as a sound by its name
MENDED = ".mended.mid"  # how a mended copy of a song is named
_SONY_WAVE = b"riff\x2e\x91\xcf\x11"  # the first half of the identifier that Wave64 begins with
# bytes asked for at once: memory follows what is there, not what is allowed, and a small song is
# read in a twentieth of the time that it takes to make room for a large one
_LEAST_PIECE, _MOST_PIECE = 1 << 12, 1 << 20


def is_file(path: Path) -> bool:
    """Whether a path names an ordinary file; one that the system cannot reach does not."""
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that is too long, a folder that is closed to us
        return False


def is_sound(head: bytes) -> bool:
    """Whether a file that begins with these 12 bytes is a sound, whatever its name says."""
    kind, form = head[:4], head[8:12]
    return (
        kind in (b"fLaC", b"OggS", b"caff", b".snd")
        or head.startswith(_SONY_WAVE)
        or head[:3] == b"ID3"  # a tag before MPEG audio, or the first bits of a frame of it
        or (head[:1] == b"\xff" and head[1:2] >= b"\xe0")
        or (kind in (b"RIFF", b"RF64") and form == b"WAVE")
        or (kind == b"FORM" and form in (b"AIFF", b"AIFC"))
    )


class NotOrdinary(OSError):
    """A pipe, a device or a folder, where a file was meant: reading it may never end."""

    def __init__(self) -> None:
        super().__init__(0, "it is no ordinary file")


def read_at_most(path: Path, most: int, follow: bool = True) -> bytes:
    """The first ``most`` bytes of an ordinary file, or all of it. Raises `OSError`.

    What is no ordinary file is never waited for: `NotOrdinary`. Nor is a link, unless it is to be
    followed.
    """
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    flags |= 0 if follow else getattr(os, "O_NOFOLLOW", 0)
    pieces: list[bytes] = []
    descriptor = os.open(path, flags)
    found = os.fstat(descriptor)
    if not stat.S_ISREG(found.st_mode):
        os.close(descriptor)
        raise NotOrdinary
    at_once = min(max(found.st_size, _LEAST_PIECE), _MOST_PIECE)  # it may have grown since
    try:
        while most > 0 and (piece := os.read(descriptor, min(most, at_once))):
            pieces.append(piece)
            most -= len(piece)
    finally:
        os.close(descriptor)
    return b"".join(pieces)


def write_atomically(path: Path, data: bytes) -> None:
    """Give ``path`` the contents ``data``, or leave it exactly as it was.

    The bytes go to a temporary file beside it, are flushed to the disk, and take the name in one
    step; an interrupt or a full disk at any moment leaves the old file whole and no half file. Mode
    bits of an existing file are kept; a link is followed, so that it stays a link. Raises
    `MendError` where the target is locked, read-only, no ordinary file, or its folder is gone.
    """
    write_all([(path, data)])


def write_all(files: Iterable[tuple[Path, bytes]]) -> None:
    """Give each file (path, contents) its contents as `write_atomically` does; the first takes its
    name once all of them are on the disk.

    That is not waited for at every file: a thousand flushed one by one take ten seconds and more.
    """
    import tempfile  # which takes its time, and most runs write nothing

    waiting: list[tuple[str, Path, int]] = []  # temporary file, the name that it takes, its mode
    path = Path()
    try:
        for path, data in files:
            target = Path(os.path.realpath(path))
            mode = _mode(target, path)
            descriptor, temporary = tempfile.mkstemp(
                dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".tmp"
            )
            waiting.append((temporary, target, mode))
            with os.fdopen(descriptor, "wb") as file:
                file.write(data)
        for temporary, path, _ in waiting:  # noqa: B007 (it is told where one fails)
            _flush(temporary, os.O_RDWR)
        folders = {target.parent for _, target, _ in waiting}
        while waiting:
            temporary, path, mode = waiting[0]
            Path(temporary).chmod(mode)
            os.replace(temporary, path)  # noqa: PTH105 (one step, on every system)
            del waiting[0]
        for folder in folders:
            with contextlib.suppress(OSError):  # the new names, where the system can do that
                _flush(folder, os.O_RDONLY)
    except OSError as error:
        raise MendError(
            f"{path} could not be written: {error.strerror or error}.",
            f"{_advice(error)} What was there before is whole.",
        ) from None
    finally:
        for temporary, *_ in waiting:  # also on an interrupt
            with contextlib.suppress(OSError):
                Path(temporary).unlink()


def _flush(path: str | Path, how: int) -> None:
    """Have what is known of a file or folder on the disk; ``how`` to open it."""
    descriptor = os.open(path, how)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _mode(target: Path, path: Path) -> int:
    """Mode bits to give the new file: those of the old one, else what the user's mask allows."""
    try:
        old = target.stat()
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
    except OSError as error:
        raise MendError(f"{path} cannot be reached: {error.strerror}.", _advice(error)) from None
    if not stat.S_ISREG(old.st_mode):
        raise MendError(f"{path} is no ordinary file.", "Name another file to write to.")
    if not old.st_mode & stat.S_IWUSR or not os.access(target, os.W_OK):
        raise MendError(
            f"{path} is read-only.",
            "Write beside it, or allow writing to it. It was left as it is.",
        )
    return stat.S_IMODE(old.st_mode)


def _advice(error: OSError) -> str:
    if isinstance(error, PermissionError):
        return "Close the program that holds it, or write elsewhere."
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return "Check that the folder exists."
    return "Free some space, or write elsewhere."
