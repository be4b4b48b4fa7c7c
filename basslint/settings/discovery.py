"""Which settings file holds for a song? It is found by walking up from the song's folder."""

from __future__ import annotations

import os
from fnmatch import fnmatchcase
from pathlib import Path

from basslint.settings.model import FILE_NAME, Settings
from basslint.util.files import MENDED, SUFFIXES

_DEFAULT = Settings()


def find_file(path: Path) -> Path | None:
    """The settings file that holds for a path: the nearest one in its folder or above."""
    start = path.absolute()
    for folder in (start, *start.parents) if start.is_dir() else start.parents:
        candidate = f"{folder}{os.sep}{FILE_NAME}"
        if os.path.isfile(candidate):  # noqa: PTH113  # asked for every folder above every song
            return Path(candidate)
    return None


def settings_for(path: Path, file: Path | None = None, members: tuple[Path, ...] = ()) -> Settings:
    """Settings for a song: of ``file``, or of the nearest one above it. Raises `SettingsError`.

    ``members``: the files that are read together for a folder, where the command line names them.
    """
    file = file or find_file(path)
    if file is None:
        return _DEFAULT
    from basslint.settings.reader import read_file

    stated = read_file(file)
    if stated.songs and path.is_dir():
        members = members or files_together(path, stated.base)
    return stated.settings_of(path, members)


def files_together(folder: Path, settings: Settings) -> tuple[Path, ...]:
    """The files that are read together for a folder, in order of name: those that a glob of the
    settings names, else all MIDI files of the folder itself; mended copies are never among them.
    None of a folder that cannot be looked into, which who reads it says.
    """
    try:
        inside = sorted(p for p in folder.iterdir() if p.name.lower().endswith(SUFFIXES))
    except OSError:
        return ()
    songs = [p for p in inside if p.is_file() and not p.name.endswith(MENDED)]
    named = [p for p in songs if is_grouped(p, settings)]
    return tuple(named or songs)


def is_grouped(song: Path, settings: Settings) -> bool:
    """Whether the settings read a file together with others of its folder."""
    name = settings.name_of(song)
    return any(fnmatchcase(name, glob) for glob in settings.together)
