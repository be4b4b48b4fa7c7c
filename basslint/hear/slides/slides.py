"""Which slides does the bass play, where do they land, and is the sound still there?

However a file writes a slide (an overlap on a mono part, pitch bend, portamento
controllers), it comes out as the same row here.

Level at landing: −60·t/T60 dB, t from the stroke that set the voice sounding (ISO 3382: T60 is the
time to fall by 60 dB); a legato voice is not struck again. Velocity is left out of it: it tells
how loud the stroke was, not how far the sound has fallen since.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.curves import Gesture, Shape, read_gesture
from basslint.hear.slides.glides import Glides, hear_glides
from basslint.hear.slides.legato import overlaps_glide
from basslint.hear.slides.voice import EDGE_S, FOREVER, Voice, hear_voice
from basslint.song.arrangement import Song
from basslint.song.bends import BendCurve, bend_steps, hear_bends
from basslint.song.timing import TempoMap
from basslint.theory.acoustics import T60_FALL_DB
from basslint.util.columns import TINY, ends_of, rows_where, turns
from basslint.util.records import record, replace

_LATER = 100  # quarters after a landing, by when it was heard: `FOREVER` has no seconds


@record(eq=False, kw_only=True)
class Slides:
    """Slides of the bass parts as columns of shape [n], in order of start, part, note.

    ``part`` int32 index into song.parts. ``note`` int64: row in song.notes of the note heard
    landing (of a bend, the sounding note); ``source_note`` int64: the note slid from (of a bend
    ``note`` itself). ``how``: "overlap", "bend" or "portamento". ``start``, ``land`` int64 ticks;
    ``origin``, ``target`` float64 MIDI pitch with fractions; a bend's target is where it was bound
    for, also when the note ends on the way. ``onset`` int64 tick of the stroke that it rings from;
    ``until`` int64 tick at which its note stops sounding; ``lands`` bool: it sounds on after that
    for long enough to be heard there (10 ms). ``level_db`` float64: how far the sound
    has fallen at landing, NaN where the decay is unknown or the slide never lands. ``shape``:
    "glide" for notes, else another `Shape`. ``range_stated`` bool: the bend range was
    stated (True for notes); ``bend_range`` float64 semitones, NaN for notes. ``first_change``,
    ``last_change`` int64: rows in song.changes of the bend events that begin and end it, −1 for
    notes. ``overlap`` int64 ticks that the two notes share, 0 where they do not meet.
    """

    part: NDArray[np.int32]
    note: NDArray[np.int64]
    source_note: NDArray[np.int64]
    how: tuple[str, ...]
    start: NDArray[np.int64]
    land: NDArray[np.int64]
    origin: NDArray[np.float64]
    target: NDArray[np.float64]
    onset: NDArray[np.int64]
    until: NDArray[np.int64]
    lands: NDArray[np.bool_]
    level_db: NDArray[np.float64]
    shape: tuple[Shape, ...]
    range_stated: NDArray[np.bool_]
    bend_range: NDArray[np.float64]
    first_change: NDArray[np.int64]
    last_change: NDArray[np.int64]
    overlap: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.start)

    def as_sampled(self, shift: float, own_pitch: float | None) -> Slides:
        """These slides with the decay that a sampler gives them, ``shift`` semitones above what is
        written; their pitches stay as written.

        ``own_pitch``: that of the one-shot (MIDI number), None where unknown: played above it the
        sound dies faster by as much as its speed, an octave up twice as fast.
        """
        if own_pitch is None or not len(self):
            return self
        speed = 2.0 ** ((self.origin + shift - own_pitch) / 12.0)
        return replace(self, level_db=self.level_db * speed)


@record(kw_only=True)
class _Row:
    """One slide before the columns are built; ``note`` and ``source`` are rows in song.notes."""

    part: int
    note: int
    source: int
    how: str
    start: int
    land: int
    origin: float
    target: float
    onset: int
    until: int
    shape: Shape
    stated: bool = True
    reach: float = float("nan")
    first: int = -1
    last: int = -1
    overlap: int = 0


def hear_slides(
    song: Song,
    bass_parts: tuple[int, ...],
    glide_time_s: float,
    bend_range: float | None,
    decay_s: float | None,
    one_shot: bool,
    glides: bool = False,
) -> Slides:
    """Hear every slide of the bass parts.

    ``glide_time_s``: how long a glide between notes takes, which no file tells. ``bend_range``
    (semitones) wins over the file's where it is not None. ``decay_s``: T60 of the bass sound,
    None where unknown. ``one_shot``: the sound rings on after its note ends, until the next note;
    else it stops with the note. ``glides``: the user's facts tell that overlaps glide.
    """
    curves = hear_bends(song, bass_parts, bend_range)
    rows: list[_Row] = []
    for part in bass_parts:
        voice = hear_voice(song, part)
        overlaps = overlaps_glide(song, part, voice, glide_time_s, glides)
        found, struck = hear_glides(voice, glide_time_s, overlaps)
        curve = curves.get(part)
        rows += _glide_rows(song.tempo, part, voice, found, glide_time_s, one_shot, curve)
        if curve is not None:
            rows += _bend_rows(song.tempo, part, voice, struck, one_shot, curve)
    rows.sort(key=lambda r: (r.start, r.part, r.note, r.how))
    return _columns(song.tempo, rows, decay_s)


def needed_ring_s(slides: Slides, song: Song, floor_db: float) -> tuple[float, int] | None:
    """How long must the sound ring (T60, seconds) for its latest slide to land above a floor?

    Returns that time and the slide's row; None where no slide lands. ``floor_db`` is negative.
    """
    if floor_db >= 0:
        raise ValueError("floor_db must be below 0")
    if not np.count_nonzero(slides.lands):
        return None
    rung = song.tempo.seconds(slides.land) - song.tempo.seconds(slides.onset)
    rung = np.where(slides.lands, rung, -1.0)
    row = int(np.argmax(rung))
    return float(rung[row]) * T60_FALL_DB / -floor_db, row


def _glide_rows(
    tempo: TempoMap,
    part: int,
    voice: Voice,
    glides: Glides,
    glide_s: float,
    one_shot: bool,
    curve: BendCurve | None,
) -> list[_Row]:
    if not glides.start:
        return []
    start = np.array(glides.start, dtype=np.int64)
    land = tempo.ticks(tempo.seconds(start) + glide_s)
    shift_from = curve.at(start) if curve else np.zeros(len(start))
    shift_to = curve.at(land) if curve else np.zeros(len(start))
    until = glides.until
    if one_shot:  # it rings on after the note ends, up to whatever is struck next
        coming = np.concatenate((voice.start, [FOREVER]))
        until = coming[voice.start.searchsorted(start, side="right")].tolist()
    return [
        _Row(
            part=part,
            note=note,
            source=source,
            how=glides.how[i],
            start=glides.start[i],
            land=lands,
            origin=glides.origin[i] + comes,
            target=glides.target[i] + goes,
            onset=glides.onset[i],
            until=until[i],
            shape="glide",
            overlap=glides.overlap[i],
        )
        for i, (note, source, lands, comes, goes) in enumerate(
            zip(
                voice.row[glides.note].tolist(),
                voice.row[glides.source].tolist(),
                land.tolist(),
                shift_from.tolist(),
                shift_to.tolist(),
                strict=True,
            )
        )
    ]


def _bend_rows(
    tempo: TempoMap,
    part: int,
    voice: Voice,
    struck: NDArray[np.int64],
    one_shot: bool,
    curve: BendCurve,
) -> list[_Row]:
    steps = bend_steps(curve, tempo)
    if not len(steps.tick):
        return []
    ends = np.minimum(voice.end, voice.following) if voice.mono else voice.end
    furthest = np.maximum.accumulate(ends)
    edges = tempo.ticks(voice.start_s + EDGE_S) - voice.start
    begins = rows_where(turns(steps.motion))
    stops = ends_of(begins, len(steps.tick))
    rows: list[_Row] = []
    for lo, hi in zip(begins.tolist(), stops.tolist(), strict=True):
        first, last = int(steps.tick[lo]), int(steps.tick[hi - 1])
        near = int(furthest.searchsorted(first, side="right"))
        beyond = int(voice.start.searchsorted(last, side="left"))
        event = int(curve.tick[steps.at[lo] - 1]) if steps.at[lo] > 0 else None
        for k in (near + rows_where(ends[near:beyond] > first)).tolist():
            limit = int(voice.following[k]) if voice.mono else int(ends[k])
            note = (int(voice.start[k]), int(ends[k]))
            gesture = read_gesture(steps, lo, hi, note, limit, int(edges[k]), event)
            if gesture is not None:
                until = limit if one_shot else note[1]
                rows.append(_bend_row(part, voice, k, gesture, int(struck[k]), until, curve))
    return rows


def _bend_row(
    part: int, voice: Voice, k: int, gesture: Gesture, onset: int, until: int, curve: BendCurve
) -> _Row:
    pitch = float(voice.pitch[k])
    return _Row(
        part=part,
        note=int(voice.row[k]),
        source=int(voice.row[k]),
        how="bend",
        start=gesture.start,
        land=gesture.land,
        origin=pitch + gesture.origin,
        target=pitch + gesture.target,
        onset=onset,
        until=until,
        shape=gesture.shape,
        stated=bool(curve.stated[gesture.last]),
        reach=float(curve.range[gesture.last]),
        first=int(curve.row[gesture.first]),
        last=int(curve.row[gesture.last]),
    )


def _columns(tempo: TempoMap, rows: list[_Row], decay_s: float | None) -> Slides:
    whole = [
        (r.part, r.note, r.source, r.start, r.land, r.onset, r.until, r.first, r.last, r.overlap)
        for r in rows
    ]
    part, note, source, start, land, onset, until, first, last, overlap = (
        np.array(whole, dtype=np.int64).reshape(-1, 10).T.copy()
    )
    real = [(r.origin, r.target, r.reach) for r in rows]
    origin, target, reach = np.array(real, dtype=np.float64).reshape(-1, 3).T.copy()
    landed_s = tempo.seconds(land)
    soon = np.minimum(until, land + _LATER * tempo.division)
    lands = tempo.seconds(soon) - landed_s > EDGE_S - TINY
    level = np.full(len(rows), np.nan)
    if decay_s is not None:
        rung = landed_s - tempo.seconds(onset)
        level = np.where(lands, -T60_FALL_DB * rung / decay_s, np.nan)
    return Slides(
        part=part.astype(np.int32),
        note=note,
        source_note=source,
        how=tuple(r.how for r in rows),
        start=start,
        land=land,
        origin=origin,
        target=target,
        onset=onset,
        until=until,
        lands=lands,
        level_db=level,
        shape=tuple(r.shape for r in rows),
        range_stated=np.array([r.stated for r in rows], dtype=bool),
        bend_range=reach,
        first_change=first,
        last_change=last,
        overlap=overlap,
    )
