"""Which files are meant by the paths on the command line?"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from basslint.errors import UsageError
from basslint.util.files import MENDED, SUFFIXES
from basslint.util.records import record

_SHARD = r"^([1-9]\d{0,5})/([1-9]\d{0,5})$"


@record
class Found:
    """The songs that paths mean, and plain sentences on what was left out of their folders."""

    songs: tuple[Path, ...]
    remarks: tuple[str, ...] = ()


def find_songs(paths: Iterable[str | Path]) -> list[Path]:
    """The songs of `look_for_songs` alone."""
    return list(look_for_songs(paths).songs)


def look_for_songs(paths: Iterable[str | Path]) -> Found:
    """MIDI files among the paths and below the folders, each once, in stable order.

    A folder's files come in order of path; hidden folders are left out, and so are mended copies
    beside their songs. A folder that cannot be looked into, and a link that leads to nothing, stand
    there too, so that the report tells of them. Raises `UsageError` for a path that does not exist
    or is no ordinary file, and where there is no MIDI file at all.
    """
    found: dict[Path, None] = {}
    copies: dict[Path, None] = {}
    asked = list(paths)
    for given in asked:
        path = Path(given)
        if path.is_dir():
            inside = sorted(_below(path))
            songs = set(inside)
            beside = {p for p in inside if _song_of(p) in songs}
            copies.update((p, None) for p in inside if p in beside)
            found.update((p, None) for p in inside if p not in beside)
        elif path.is_file():
            found[path] = None
        elif path.exists():  # a pipe or a device may never end
            raise UsageError(f"{path} is no ordinary file.", "Name a file or a folder.")
        elif str(given) == "-":
            raise UsageError("Standard input is not read.", "Name a file or a folder.")
        else:
            raise UsageError(f"{path} does not exist.", "Check the spelling of the path.")
    if not found:
        where = f" in {asked[0]}" if len(asked) == 1 else ""
        raise UsageError(
            f"No MIDI file was found{where}.", "Give a .mid file, or a folder that holds some."
        )
    return Found(tuple(found), _remarks([p for p in copies if p not in found]))


def _song_of(path: Path) -> Path | None:
    """The song whose mended copy a path would be; None for any other name."""
    name = path.name
    return path.with_name(name[: -len(MENDED)] + ".mid") if name.endswith(MENDED) else None


def _remarks(copies: Sequence[Path]) -> tuple[str, ...]:
    if not copies:
        return ()
    what = f"{copies[0]}, a mended copy beside its song, was"
    if len(copies) > 1:
        what = f"{len(copies)} mended copies beside their songs (NAME{MENDED}) were"
    return (f"{what} left out; one that is named itself is checked.",)


def _below(folder: Path) -> list[Path]:
    """The MIDI files below a folder, and what nobody can look at: a closed folder, a link that
    leads to nothing, as where large files were not fetched."""
    inside: list[Path] = []
    closed: list[Path] = []
    for top, folders, files in os.walk(folder, onerror=lambda e: closed.append(Path(e.filename))):
        folders[:] = [name for name in folders if not name.startswith(".")]
        inside += [Path(top, name) for name in files if name.lower().endswith(SUFFIXES)]
    return [*(path for path in inside if path.is_file() or _leads_nowhere(path)), *closed]


def _leads_nowhere(path: Path) -> bool:
    """A link to a file that is not there; hidden ones are locks of editors."""
    return path.is_symlink() and not path.exists() and not path.name.startswith(".")


def shard_of(songs: Sequence[Path], text: str) -> list[Path]:
    """The songs of a shard: ``2/5`` takes the second of every five. Raises `UsageError`."""
    share = share_of(text)
    if share is None:
        raise UsageError(f"--shard: “{text}” is no share of the songs.", "Write 2/5.")
    number, of = share
    return list(songs[number - 1 :: of])


def share_of(text: str) -> tuple[int, int] | None:
    """The number of a shard and how many there are, of ``2/5``; None where it says no such."""
    match = re.match(_SHARD, text)
    if not match or int(match[1]) > int(match[2]):
        return None
    return int(match[1]), int(match[2])
