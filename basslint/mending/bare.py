"""How does a song lie bare, out of a RIFF wrapper, so that its data are the whole file?"""

from __future__ import annotations

from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build


def bare_song(song: Song) -> Song:
    """The song itself where nothing is around it, else one that is read from its own bytes."""
    return song if song.scan.base == 0 else build(scan(song.scan.data))
