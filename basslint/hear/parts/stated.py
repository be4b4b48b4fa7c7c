"""Which parts does the user mean by the names stated?"""

from __future__ import annotations

from basslint.errors import UsageError
from basslint.song.arrangement import Song
from basslint.util.text import nearest, whole

_NEAR = 0.5  # likeness of names, 0..1: a track name typed from memory is half right


def parts_named(
    song: Song, names: tuple[str, ...], option: str, path: str = ""
) -> tuple[int, ...] | None:
    """Indexes of the parts named; None where no name is stated.

    A name is that of a part or of its track, in any case, or ``#2`` for the second part. Raises
    `UsageError`, which names ``option`` and ``path``, where the song has no such part.
    """
    if not names:
        return None
    return tuple(dict.fromkeys(i for name in names for i in _parts(song, name, option, path)))


def _parts(song: Song, name: str, option: str, path: str) -> list[int]:
    parts = song.parts
    number = whole(name[1:]) if name.startswith("#") else None
    if number is not None and 1 <= number <= len(parts):
        return [number - 1]
    wanted = name.casefold()
    found = [i for i, p in enumerate(parts) if p.name.casefold() == wanted]
    found = found or [i for i, p in enumerate(parts) if p.track_name.casefold() == wanted]
    if found:
        return found
    bare = whole(name) or 0  # “3” for the third part, where none is called so
    near = f"#{bare}" if 1 <= bare <= len(parts) else nearest(name, (p.name for p in parts), _NEAR)
    hint = f"Did you mean “{near}”? " if near else ""
    listed = ", ".join(f"#{p.number} {p.name}" for p in parts) or "none"
    raise UsageError(
        f"{option}: {path or 'the song'} has no part “{name}”.",
        f"{hint}Its parts: {listed}.",
    )
