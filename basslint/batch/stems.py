"""Which folders hold the parts of one beat, a file each, that were checked one by one?"""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from pathlib import Path

from basslint.report.section import Section

_NAMED = 3  # folders; the others are counted


def stems_apart(checked: Iterable[tuple[Path, Section]], command: str) -> tuple[str, ...]:
    """A sentence where folders seem to hold parts that belong together, and how to read them so.

    Parts are files of one part each, of which one has a bass without its harmony and another no
    bass. ``command`` reads the files of a folder as one.
    """
    folders: dict[Path, list[Section]] = {}
    for song, section in checked:
        folders.setdefault(song.parent, []).append(section)
    found = [folder for folder, sections in folders.items() if _parted(sections)]
    if not found:
        return ()
    names = ", ".join(str(folder) for folder in found[:_NAMED])
    more = f" and {len(found) - _NAMED} more folders" if len(found) > _NAMED else ""
    example = f"`{command} --together {shlex.quote(str(found[0]))}`"
    return (
        f"The files of {names}{more} hold one part each, so no bass was held against its harmony: "
        f"if they are one beat, {example} reads them as one.",
    )


def _parted(sections: list[Section]) -> bool:
    alone = all(section.alone for section in sections)
    return alone and any(s.rootless for s in sections) and any(s.bassless for s in sections)
