"""What was dropped on the page? Songs stay in memory, sounds lie in a folder of our own.

Names from the page are only shown: files are called by numbers of ours, so that no name can lead
anywhere.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path, PurePosixPath

from basslint.errors import UsageError
from basslint.util.files import SOUND_SUFFIXES, SUFFIXES
from basslint.util.text import visible
from basslint.watch.statement import Upload

MOST_SONGS = 12  # that were dropped, at a time: beyond, the oldest one leaves the page
_LONGEST_NAME = 80
_PLAIN = frozenset(" ._-+#()&',")
_AWAY = "(dropped)"  # a folder that nothing is read from or written to


class Drops:
    """Names of dropped songs, and the sounds that were dropped, until the run ends."""

    def __init__(self) -> None:
        self._home: Path | None = None
        self._sounds = 0

    def song(self, name: str) -> Path:
        """How a dropped song is called. Raises `UsageError` where it is none by its name."""
        called = plain(name)
        if not called.lower().endswith(SUFFIXES):
            raise UsageError(
                f"“{called}” is no MIDI file by its name.",
                f"Drop a .mid file, or a sound: {', '.join(SOUND_SUFFIXES)}.",
            )
        return Path(_AWAY, called)

    def sound(self, name: str, data: bytes) -> Upload:
        """Keep a sound. Raises `UsageError` where it is none by its name, or cannot be kept."""
        called = plain(name)
        suffix = PurePosixPath(called).suffix.lower()
        if suffix not in SOUND_SUFFIXES:
            raise UsageError(
                f"“{called}” is no sound by its name.", f"Drop one of {', '.join(SOUND_SUFFIXES)}."
            )
        self._sounds += 1
        try:
            if self._home is None:
                self._home = Path(tempfile.mkdtemp(prefix="basslint-"))  # for this user alone
            path = self._home / f"sound-{self._sounds}{suffix}"
            path.write_bytes(data)
        except OSError as error:
            raise UsageError(
                f"“{called}” cannot be kept: {error.strerror}.",
                "Free some space and drop it again.",
            ) from None
        return Upload(path, called)

    def forget(self, upload: Upload | None) -> None:
        """A sound is no longer needed."""
        if upload is not None:
            upload.path.unlink(missing_ok=True)

    def end(self) -> None:
        """Leave nothing behind."""
        if self._home is not None:
            shutil.rmtree(self._home, ignore_errors=True)
            self._home = None


def plain(name: str) -> str:
    """A file's name as it is shown: without folders, in letters, figures and a few signs."""
    last = visible(name.replace("\\", "/").rpartition("/")[2], _LONGEST_NAME)
    kept = "".join(c if c.isalnum() or c in _PLAIN else "-" for c in last).strip(". ")
    return kept or "nameless"
