"""The roots that were heard, handed back as MIDI: a track to drag under the beat.

Common practice: a guide of held roots in the octave of the bass, to play by and to check by ear.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import mido
import numpy as np

from basslint.audio.answers import glide_roots, loop_roots
from basslint.audio.loop import TICKS, HeardLoop
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP, Roots
from basslint.song.arrangement import Song
from basslint.util.records import record

_F1 = 29  # lowest note of the usual register, which ends at E2: every root has one place in it
_OCTAVE = 12
USUAL_OCTAVE = 1  # of that F
_LOUDEST = 127
_MICROSECONDS = 60e6  # in a minute
_NAME = "Roots"
_FINGERED_BASS = 33  # General MIDI program, from 0


@record
class Guide:
    """``data``: a Standard MIDI File of one track. ``notes``: roots in it. ``left_out``: rows of
    ``chart.roots`` that are not sure enough to be handed on."""

    data: bytes
    notes: int
    left_out: tuple[int, ...]


_Event = tuple[int, mido.Message | mido.MetaMessage]


@record
class _Move:
    """Where a chord glides into the next: ticks, and the roots before and after it."""

    start: int
    end: int
    before: int
    after: int


def guide(chart: Chart, octave: int = USUAL_OCTAVE) -> Guide:
    """The roots of a song as held notes from F of an octave up to E of the next.

    Each lasts as long as its root, at its exact ticks; its velocity is its certainty. What is less
    sure than rules act on is left out. Where a loop glides from one chord into the next, the first
    root is held for half of the way and the second for the rest. Tempo, meter and markers are those
    of the song.
    """
    held = _guide_notes(chart.roots, _moves(chart.roots), octave)
    return _guide(chart.song.division, chart.song.end_tick, _song_events(chart.song), held)


def held_roots(chart: Chart, octave: int = USUAL_OCTAVE) -> list[tuple[int, int, int, int]]:
    """The notes of a song's guide: start tick, end tick, pitch, and the certainty as a velocity."""
    return _guide_notes(chart.roots, _moves(chart.roots), octave).notes


def loop_guide(heard: HeardLoop, octave: int = USUAL_OCTAVE) -> Guide:
    """The roots of a sampled loop in the same way, at its own tempo and meter."""
    edges = heard.segments.edges.tolist()
    ends = zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True)
    moves = [
        _Move(edges[begin], edges[end], before, after)
        for (begin, end), (before, after) in zip(ends, glide_roots(heard), strict=True)
        if before >= 0 and after >= 0
    ]
    bars = heard.bars
    head: list[_Event] = [
        (0, mido.MetaMessage("track_name", name=_NAME)),
        (0, mido.MetaMessage("set_tempo", tempo=round(_MICROSECONDS / bars.bpm))),
        (0, mido.MetaMessage("time_signature", numerator=bars.meter[0], denominator=bars.meter[1])),
    ]
    held = _guide_notes(loop_roots(heard), moves, octave)
    return _guide(TICKS, int(heard.grid.start[-1]), head, held)


@record
class _GuideNotes:
    """Notes ``(start, end, pitch, velocity)``, and the rows of the roots that were left out."""

    notes: list[tuple[int, int, int, int]]
    left_out: tuple[int, ...]


def _guide_notes(roots: Roots, moves: Sequence[_Move], octave: int) -> _GuideNotes:
    """Sure roots as notes in the octave from an F up; a chord that changes on its root goes on."""
    lowest = _F1 + _OCTAVE * (octave - USUAL_OCTAVE)
    has_root = roots.root >= 0
    sure = has_root & (roots.certainty >= CERTAIN)
    spans = [
        (int(roots.start[r]), int(roots.end[r]), int(roots.root[r]), float(roots.certainty[r]))
        for r in np.flatnonzero(sure).tolist()
    ]
    for move in moves:  # as sure as rules need it: that it moves is heard, not when it arrives
        middle = (move.start + move.end) // 2
        spans.append((move.start, middle, move.before, CERTAIN))
        spans.append((middle, move.end, move.after, CERTAIN))
    notes: list[tuple[int, int, int, int]] = []
    for start, end, root, certainty in sorted(spans):
        pitch = lowest + (root - lowest) % _OCTAVE
        velocity = max(1, round(_LOUDEST * certainty))
        if notes and notes[-1][1:3] == (start, pitch):
            notes[-1] = (notes[-1][0], end, pitch, min(notes[-1][3], velocity))
        else:
            notes.append((start, end, pitch, velocity))
    return _GuideNotes(notes, tuple(np.flatnonzero(has_root & ~sure).tolist()))


def _moves(roots: Roots) -> list[_Move]:
    """Stretches in which a loop is heard to move, between two roots that are sure."""
    sure = (roots.root >= 0) & (roots.certainty >= CERTAIN)
    joined = roots.end[:-1] == roots.start[1:]
    row = np.flatnonzero((roots.root < 0) & (roots.source == LOOP))
    row = row[(row > 0) & (row < len(roots) - 1)]
    row = row[sure[row - 1] & sure[row + 1] & joined[row - 1] & joined[row]]
    columns = (roots.start[row], roots.end[row], roots.root[row - 1], roots.root[row + 1])
    return [_Move(*values) for values in zip(*(c.tolist() for c in columns), strict=True)]


def _guide(division: int, end_tick: int, head: list[_Event], held: _GuideNotes) -> Guide:
    events = [*head, (0, mido.Message("program_change", program=_FINGERED_BASS))]
    for start, end, pitch, velocity in held.notes:
        events.append((start, mido.Message("note_on", note=pitch, velocity=velocity)))
        events.append((end, mido.Message("note_off", note=pitch)))
    return Guide(_file(division, end_tick, events), len(held.notes), held.left_out)


def _song_events(song: Song) -> list[_Event]:
    """Name, tempo, meter and markers, at their ticks."""
    grid = song.grid
    events: list[_Event] = [(0, mido.MetaMessage("track_name", name=_NAME))]
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


def _file(division: int, end_tick: int, events: list[_Event]) -> bytes:
    """The events as a file of one track that ends with the song; note-offs come first at a tick."""

    def order(event: _Event) -> tuple[int, bool, bool]:
        tick, message = event
        return tick, not message.is_meta, message.type != "note_off"

    track, now = mido.MidiTrack(), 0
    for tick, message in sorted(events, key=order):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(end_tick - now, 0)))
    midi = mido.MidiFile(type=0, ticks_per_beat=division, charset="utf-8")
    midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()
