"""A part that was muted at the export leaves a named track without notes: is it told?"""

from __future__ import annotations

import io

import mido
import pytest

from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes
from basslint.rulebook.notation import compile_beat
from basslint.settings.model import Settings

KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
SUB = "sub | A1:4 | F1:4 | C2:4 | G1:4 |*4\n"


def told(beat: str, *mute: str, settings: Settings | None = None) -> tuple[str, ...]:
    """What the reader says of a beat with named tracks that hold no notes."""
    midi = mido.MidiFile(file=io.BytesIO(compile_beat(f"tempo 140\n{beat}").data))
    midi.tracks.insert(0, mido.MidiTrack([mido.MetaMessage("track_name", name="A title")]))
    midi.tracks += [mido.MidiTrack([mido.MetaMessage("track_name", name=name)]) for name in mute]
    out = io.BytesIO()
    midi.save(file=out)
    settings = settings or Settings()
    return check_bytes(out.getvalue(), "a.mid", settings, book_for(settings)).warnings


def test_tracks_without_notes_are_told_where_nobody_plays_chords() -> None:
    (said,) = told(SUB, "Piano", "Pad")
    assert said.startswith("No part plays chords, and the tracks without notes are: Piano, Pad. If")
    (said,) = told(SUB, *"ABCDEF")
    assert "are: A, B, C, D, …. If" in said


@pytest.mark.parametrize(("beat", "mute"), [(KEYS + SUB, ("Pad",)), (SUB, ()), (KEYS, ("Sub",))])
def test_they_are_nobodys_concern_where_chords_are_played(beat: str, mute: tuple[str, ...]) -> None:
    assert told(beat, *mute) == ()


def test_nor_where_chords_are_stated() -> None:
    assert told(SUB, "Pad", settings=Settings().with_facts(chords="Am F C G")) == ()
