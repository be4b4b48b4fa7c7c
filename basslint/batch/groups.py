"""Which of the songs of a run are groups of files that are read together?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from basslint.errors import UsageError
from basslint.settings.discovery import is_grouped
from basslint.settings.model import Settings
from basslint.util.records import record


@record
class Groups:
    """Folders that stand for groups, and the files of the one that was named file by file."""

    folders: tuple[Path, ...]
    members: tuple[Path, ...] = ()


def groups_of(paths: Iterable[str | Path], songs: Sequence[Path]) -> Groups:
    """The groups that ``--together`` means: the files of each folder, or all files named.

    ``songs``: those found among the paths. Raises `UsageError` where both kinds are named.
    """
    given = [Path(path) for path in paths]
    folders = tuple(path for path in given if path.is_dir())
    if folders and len(folders) < len(given):
        raise UsageError(
            "--together: files and folders cannot be named in one.",
            "Name the files of one arrangement, or folders that hold one each.",
        )
    if folders:
        homes = {song.parent for song in songs}
        nested = sorted(homes - set(folders))
        if nested:
            raise UsageError(
                f"--together: {nested[0]} lies within a folder that is named.",
                "Name each folder that holds the files of one arrangement.",
            )
        return Groups(folders)
    return Groups((songs[0].parent,), tuple(songs))


def with_groups(songs: Iterable[Path], settings_of: Callable[[Path], Settings]) -> list[Path]:
    """The songs; files that the settings read together are replaced by their folder.

    Each folder stands once, where the first of its files stood.
    """
    result: dict[Path, None] = {}
    for song in songs:
        settings = settings_of(song)
        grouped = bool(settings.together) and is_grouped(song, settings)
        result[song.parent if grouped else song] = None
    return list(result)
