"""Which settings file holds for a song? It is found by walking up from the song's folder."""

from __future__ import annotations

import os
from pathlib import Path

from basslint.settings.model import FILE_NAME, Settings

_DEFAULT = Settings()


def find_file(path: Path) -> Path | None:
    """The settings file that holds for a path: the nearest one in its folder or above."""
    start = path.absolute()
    for folder in (start, *start.parents) if start.is_dir() else start.parents:
        candidate = f"{folder}{os.sep}{FILE_NAME}"
        if os.path.isfile(candidate):  # noqa: PTH113  # asked for every folder above every song
            return Path(candidate)
    return None


def settings_for(path: Path, file: Path | None = None) -> Settings:
    """Settings for a song: of ``file``, or of the nearest one above it. Raises `SettingsError`."""
    file = file or find_file(path)
    if file is None:
        return _DEFAULT
    from basslint.settings.reader import read_file

    return read_file(file).settings_of(path)
