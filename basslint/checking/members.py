"""Which files are one arrangement?"""

from __future__ import annotations

from fnmatch import fnmatchcase
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.util.files import MENDED, SUFFIXES, read_at_most

if TYPE_CHECKING:
    from basslint.settings.model import Settings
    from basslint.waivers.model import Ledger


def members_of(folder: Path, settings: Settings) -> tuple[Path, ...]:
    """The files that are read together for a folder, in order of name.

    Those that the command line names, else those that a glob of the settings does, else all MIDI
    files of the folder itself; mended copies are never among them.
    """
    if settings.members:
        return settings.members
    inside = sorted(p for p in folder.iterdir() if p.name.lower().endswith(SUFFIXES))
    songs = [p for p in inside if p.is_file() and not p.name.endswith(MENDED)]
    named = [p for p in songs if is_grouped(p, settings)]
    return tuple(named or songs)


def is_grouped(song: Path, settings: Settings) -> bool:
    """Whether the settings read a file together with others of its folder."""
    name = settings.name_of(song)
    return any(fnmatchcase(name, glob) for glob in settings.together)


def meet(ledger: Ledger, song: Path, settings: Settings) -> None:
    """Note in the ledger of a run what the settings of a song, or group, say of single ones."""
    ledger.meet(settings.file, settings.tables)
    own = (settings.name_of(song), song.name)
    ledger.look_for(settings.file, "[[waive]] song", settings.waived, own)
    if settings.together or settings.begins:
        files = members_of(song, settings) if song.is_dir() else (song,)
        names = [settings.name_of(path) for path in files]
        ledger.look_for(settings.file, "together", settings.together, names)
        begins = tuple(glob for glob, _ in settings.begins)
        bare = [path.name for path in files]
        ledger.look_for(settings.file, "begins", begins, (*names, *bare))


def group_bytes(folder: Path, settings: Settings) -> bytes:
    """All bytes of a group, and its names: what a hash of it is made of. Raises `OSError`."""
    pieces = []
    for path in members_of(folder, settings):
        data = read_at_most(path, settings.limits.max_bytes + 1)
        pieces.append(f"{path}\0{len(data)}\0".encode("utf-8", "backslashreplace") + data)
    return b"".join(pieces)
