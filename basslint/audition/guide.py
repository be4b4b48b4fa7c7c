"""The roots that were heard, handed back as MIDI: a track to drag under the beat.

Common practice: a guide of held roots in the octave of the bass, to play by and to check by ear.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import mido
import numpy as np

from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.song.arrangement import Song

_F1 = 29  # lowest note of the usual register, which ends at E2: every root has one place in it
_OCTAVE = 12
USUAL_OCTAVE = 1  # of that F
_LOUDEST = 127
_FINGERED_BASS = 33  # General MIDI program, from 0


@dataclass(frozen=True, slots=True)
class Guide:
    """``data``: a Standard MIDI File of one track. ``notes``: roots in it. ``left_out``: rows of
    ``chart.roots`` that are not sure enough to be handed on."""

    data: bytes
    notes: int
    left_out: tuple[int, ...]


def guide(chart: Chart, octave: int = USUAL_OCTAVE) -> Guide:
    """The roots of a song as held notes from F of an octave up to E of the next.

    Each lasts as long as its root, at its exact ticks; its velocity is its certainty. What is less
    sure than rules act on is left out. Tempo, meter and markers are those of the song.
    """
    roots, song = chart.roots, chart.song
    lowest = _F1 + _OCTAVE * (octave - USUAL_OCTAVE)
    told = roots.root >= 0
    sure = told & (roots.certainty >= CERTAIN)
    spans: list[list[int]] = []  # start, end, pitch, velocity
    for row in np.flatnonzero(sure).tolist():
        start, end = int(roots.start[row]), int(roots.end[row])
        pitch = lowest + (int(roots.root[row]) - lowest) % _OCTAVE
        velocity = max(1, round(_LOUDEST * float(roots.certainty[row])))
        if spans and spans[-1][1] == start and spans[-1][2] == pitch:  # another chord on one root
            spans[-1][1], spans[-1][3] = end, min(spans[-1][3], velocity)
        else:
            spans.append([start, end, pitch, velocity])
    events = [*_song_events(song), (0, mido.Message("program_change", program=_FINGERED_BASS))]
    for start, end, pitch, velocity in spans:
        events.append((start, mido.Message("note_on", note=pitch, velocity=velocity)))
        events.append((end, mido.Message("note_off", note=pitch)))
    left_out = tuple(np.flatnonzero(told & ~sure).tolist())
    return Guide(_file(song, events), len(spans), left_out)


_Event = tuple[int, mido.Message | mido.MetaMessage]


def _song_events(song: Song) -> list[_Event]:
    """Name, tempo, meter and markers, at their ticks."""
    grid = song.grid
    events: list[_Event] = [(0, mido.MetaMessage("track_name", name="Roots"))]
    for tick, usec in zip(song.tempo.tick.tolist(), song.tempo.usec.tolist(), strict=True):
        events.append((tick, mido.MetaMessage("set_tempo", tempo=usec)))
    meters = zip(
        grid.change_tick.tolist(),
        grid.change_numerator.tolist(),
        grid.change_denominator.tolist(),
        strict=True,
    )
    for tick, above, below in meters:
        meter = mido.MetaMessage("time_signature", numerator=above, denominator=below)
        events.append((tick, meter))
    events += [(m.tick, mido.MetaMessage("marker", text=m.text)) for m in song.markers]
    return events


def _file(song: Song, events: list[_Event]) -> bytes:
    """The events as a file of one track that ends with the song; note-offs come first at a tick."""

    def order(event: _Event) -> tuple[int, bool, bool]:
        tick, message = event
        return tick, not message.is_meta, message.type != "note_off"

    track, now = mido.MidiTrack(), 0
    for tick, message in sorted(events, key=order):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(song.end_tick - now, 0)))
    midi = mido.MidiFile(type=0, ticks_per_beat=song.division, charset="utf-8")
    midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()
