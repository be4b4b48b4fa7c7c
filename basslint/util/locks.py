"""How do several runs change one file, each after the other?

Who reads a file to write it anew holds its lock meanwhile; else the later of two would put back
what the earlier one had changed.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from basslint.errors import MendError

LONGEST_WAIT_S = 60.0
_PAUSE_S, _LONGEST_PAUSE_S = 0.01, 0.1  # ever longer, so that many who wait leave the one to work
_HELD = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}
_NO_LOCKS = {errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL}


@contextlib.contextmanager
def changing(path: Path) -> Iterator[None]:
    """Hold the lock of a file that is read and then written anew; wait for whoever holds it.

    The system lets go of the lock when its holder ends, however it does. Nothing is left in the
    file's folder. A file system that knows no locks is written without. Raises `MendError` where
    the folder cannot be opened, and after `LONGEST_WAIT_S`.
    """
    target = Path(os.path.realpath(path))
    try:
        descriptor = _opened(target)
    except OSError as error:
        raise MendError(
            f"{path} could not be locked: {error.strerror or error}.",
            "Check that its folder exists and can be read.",
        ) from None
    try:
        end, pause = time.monotonic() + LONGEST_WAIT_S, _PAUSE_S
        while not _taken(descriptor):
            if time.monotonic() > end:
                raise MendError(
                    f"{path} has been held by another run for {LONGEST_WAIT_S:g} s.",
                    "Let that one end, then run this again. It was left as it is.",
                )
            time.sleep(pause)
            pause = min(1.5 * pause, _LONGEST_PAUSE_S)
        yield
    finally:
        os.close(descriptor)  # which lets go of the lock


def _opened(target: Path) -> int:
    """What is locked: the file's folder; where folders cannot be, a file that stands for it."""
    if sys.platform != "win32":
        return os.open(target.parent, os.O_RDONLY)
    name = hashlib.sha256(os.path.normcase(target).encode("utf-8", "surrogatepass")).hexdigest()
    return os.open(
        Path(tempfile.gettempdir(), f"basslint-{name[:24]}.lock"), os.O_RDWR | os.O_CREAT
    )


def _taken(descriptor: int) -> bool:
    """Try to take the lock once."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _HELD:
            return False
        if error.errno not in _NO_LOCKS:
            raise
    return True
