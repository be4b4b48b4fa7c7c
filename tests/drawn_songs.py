"""Songs of drawn files, those left out that pass a limit."""

from __future__ import annotations

from hypothesis import reject

from basslint.errors import TooLarge
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build


def song_within_limits(raw: bytes) -> Song:
    """The song of a drawn file; a drawn meter may make too many bars of a few ticks."""
    try:
        return build(scan(raw))
    except TooLarge:
        reject()
