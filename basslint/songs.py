"""Which files are meant by the paths on the command line?"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from basslint.errors import UsageError

SUFFIXES = (".mid", ".midi")

_SHARD = re.compile(r"^([1-9]\d{0,5})/([1-9]\d{0,5})$")


def find_songs(paths: Iterable[str | Path]) -> list[Path]:
    """MIDI files among the paths and below the folders, each once, in stable order.

    A folder's files come in order of path, hidden folders left out. Raises `UsageError` for a path
    that does not exist, and where there is no MIDI file at all.
    """
    found: dict[Path, None] = {}
    for given in paths:
        path = Path(given)
        if path.is_dir():
            found.update(dict.fromkeys(sorted(_below(path))))
        elif path.exists():
            found[path] = None
        else:
            raise UsageError(f"{path} does not exist.", "Check the spelling of the path.")
    if not found:
        raise UsageError(
            "No MIDI file was found.", "Give a .mid file, or a folder that holds some."
        )
    return list(found)


def _below(folder: Path) -> list[Path]:
    inside = []
    for top, folders, files in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        inside += [Path(top, name) for name in files if name.lower().endswith(SUFFIXES)]
    return [path for path in inside if path.is_file()]


def shard_of(songs: Sequence[Path], text: str) -> list[Path]:
    """The songs of a shard: ``2/5`` takes the second of every five. Raises `UsageError`."""
    match = _SHARD.match(text)
    if not match or int(match[1]) > int(match[2]):
        raise UsageError(f"--shard: “{text}” is no share of the songs.", "Write 2/5.")
    number, of = int(match[1]), int(match[2])
    return list(songs[number - 1 :: of])
