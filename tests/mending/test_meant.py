"""The song that edits make by its columns is the one that the patched bytes hold."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.mending import meant
from basslint.mending.meant import meant_song
from basslint.mending.patch import patched
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, Song, build

SONGS = sorted((Path(__file__).parents[2] / "samples").glob("*.mid"))
DRAWN = 25


def drawn(song: Song, rng: np.random.Generator) -> list[Edit]:
    """One to three edits of notes, small enough to be musical and to run into others at times."""
    edits = []
    for row in rng.choice(len(song.notes), size=int(rng.integers(1, 4)), replace=False):
        start, end, pitch, velocity, part = (
            int(getattr(song.notes, name)[row])
            for name in ("start", "end", "pitch", "velocity", "part")
        )
        by = int(rng.choice([-1, 1]) * rng.choice([30, 60, 120, 480]) * song.division // 480)
        place = {
            "track": song.parts[part].track, "channel": song.parts[part].channel,
            "tick": start, "end_tick": end,
        }  # fmt: skip
        kind = rng.choice(["pitch", "move", "start", "end", "remove", "velocity"])
        before, after = {
            "pitch": (pitch, pitch + int(rng.integers(-12, 13))),
            "move": (start, start + by), "start": (start, start + by), "end": (end, end + by),
            "remove": (pitch, None), "velocity": (velocity, 64),
        }[kind]  # fmt: skip
        own = {} if kind == "pitch" else {"pitch": pitch}
        edits.append(Edit(do=kind, before=before, after=after, **own, **place))
    return edits


def told(song: Song) -> list[object]:
    """All that a chart asks of a song, but for the places of its events."""
    notes = song.notes
    columns = (notes.start, notes.end, notes.pitch, notes.velocity, notes.part)
    never = notes.off_row == NEVER
    return [
        *(c.tolist() for c in (*columns, never, song.grid.start)), song.parts, song.end_tick,
    ]  # fmt: skip


@pytest.mark.parametrize("path", SONGS, ids=lambda p: p.stem)
def test_columns_tell_what_the_bytes_hold(path: Path, monkeypatch) -> None:
    song = build(scan(path.read_bytes()))
    rng = np.random.default_rng(len(song.notes))
    written = []
    monkeypatch.setattr(meant, "patched", lambda *a: written.append(a) or patched(*a))
    for _ in range(DRAWN):
        edits = drawn(song, rng)
        try:
            bytes_hold = told(patched(song.scan.data, song, edits)[1])
        except MendError:
            with pytest.raises(MendError):
                meant_song(song, edits)
        else:
            assert told(meant_song(song, edits)) == bytes_hold, edits
    assert len(written) < DRAWN / 2  # most need no writing
