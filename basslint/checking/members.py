"""Which files are one arrangement?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from basslint.settings.discovery import files_together
from basslint.util.files import read_at_most

if TYPE_CHECKING:
    from basslint.settings.model import Settings
    from basslint.waivers.model import Ledger


def members_of(folder: Path, settings: Settings) -> tuple[Path, ...]:
    """The files that are read together for a folder, in order of name.

    Those that the command line names, else those that a glob of the settings does, else all MIDI
    files of the folder itself; mended copies are never among them.
    """
    return settings.members or files_together(folder, settings)


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
