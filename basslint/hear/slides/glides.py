"""Which notes of a mono part glide into each other, and from when on has their sound rung?

An overlap on a mono voice that glides is a glide from the note that sounds to the later one,
without a new attack; when the later note ends first, the voice glides back to the note still held.
With controller 65 on, every note glides from the one before it; controller 84 names the note that
the next one glides from (MIDI 1.0 detailed specification). How long a glide takes is in no file.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Song
from basslint.song.ranges import CONTROLLER, RESET_CONTROLLERS, heard_by

SWITCH, SOURCE_NOTE = 65, 84  # portamento on/off and portamento control, MIDI 1.0
_STEERS = np.isin(np.arange(128), (SWITCH, SOURCE_NOTE, RESET_CONTROLLERS))
FOREVER = int(np.iinfo(np.int64).max) // 4

# Common practice, no source, for all of these:
LEAST_SLIDE = 0.5  # semitones: less is expression, not a slide
EDGE_S = 0.010  # shorter than this nothing is heard as a pitch
EMPTY_S = 0.005  # nor at all: a slip of the mouse
CHORD_SHARE = 0.2  # a part with more of its notes in chords than this is not played as one voice
RAGGED_OVERLAP = 0.2  # of the glide time: overlaps up to this are how most hands play legato …
RAGGED_LEAST = 8  # … where there are at least this many
RAGGED_SHARE = 0.5  # … and they are most of the part's notes: then none of them is a slide


@dataclass(slots=True)
class Glides:
    """Glides found in one part, as lists of one length; rows count within that part.

    ``start`` ticks; ``origin``, ``target`` MIDI pitch; ``onset`` tick where the voice was last
    struck; ``until`` tick at which the destination stops sounding; ``overlap`` ticks that source
    and destination share (of a glide back: that the held note has left), 0 where they do not meet.
    """

    note: list[int] = field(default_factory=list)
    source: list[int] = field(default_factory=list)
    start: list[int] = field(default_factory=list)
    origin: list[float] = field(default_factory=list)
    target: list[float] = field(default_factory=list)
    onset: list[int] = field(default_factory=list)
    until: list[int] = field(default_factory=list)
    overlap: list[int] = field(default_factory=list)
    how: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Voice:
    """The notes of one part, columns of shape [n] in order of start, pitch.

    ``row`` int64 rows in song.notes; ``start``, ``end`` int64 ticks; ``pitch`` int16; ``start_s``,
    ``end_s`` float64 seconds; ``following`` int64: start of the next later note, `FOREVER` after
    the last; ``mono``: whether one voice plays it; ``gliding`` bool [n]: portamento is switched on
    at the note; ``glides_from`` int16 [n]: pitch that controller 84 names, −1 where none;
    ``switched``: the part switches portamento on somewhere, so off means off.
    """

    row: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    start_s: NDArray[np.float64]
    end_s: NDArray[np.float64]
    following: NDArray[np.int64]
    mono: bool
    gliding: NDArray[np.bool_]
    glides_from: NDArray[np.int16]
    switched: bool


def hear_voice(song: Song, part: int) -> Voice:
    """Gather the notes of a part with what its portamento controllers say at each.

    Notes too short to sound are no notes of its line, unless it has no others.
    """
    row = song.rows_of([part])
    notes = end_stuck_notes(song.notes.take(row), song.division)
    sounds = song.tempo.seconds(notes.end) - song.tempo.seconds(notes.start) >= EMPTY_S
    if sounds.any():
        row, notes = row[sounds], notes.take(sounds)
    start, end, pitch = notes.start, notes.end, notes.pitch
    after = np.searchsorted(start, start, side="right")
    following = np.append(start, FOREVER)[after]
    gliding, glides_from = controllers_at(song, part, start)
    return Voice(
        row.astype(np.int64),
        start,
        end,
        pitch,
        song.tempo.seconds(start),
        song.tempo.seconds(end),
        following,
        is_mono(start, end, pitch, song.division),
        gliding,
        glides_from,
        bool(gliding.any()),
    )


def is_mono(
    start: NDArray[np.int64], end: NDArray[np.int64], pitch: NDArray[np.int16], division: int
) -> bool:
    """Whether a part is played one note at a time, overlaps of two apart.

    A note counts as part of a chord where it starts with another one (within a 1/256 note), or
    while two others still sound.
    """
    if len(start) < 2:
        return True
    sounding = np.arange(len(start)) - np.searchsorted(np.sort(end), start, side="right")
    close = np.diff(start) <= division // 64
    together = close & (np.diff(pitch) != 0) & (sounding[1:] > 0)
    chord = sounding >= 2
    chord[1:] |= together
    chord[:-1] |= together
    return int(chord.sum()) <= max(CHORD_SHARE * len(start), 2)


def before_each(start: NDArray[np.int64]) -> NDArray[np.int64]:
    """Start of the last earlier note before each of a part's sorted starts; `FOREVER` for none."""
    place = np.searchsorted(start, start, side="left")
    return np.concatenate(([FOREVER], start))[place]


def controllers_at(
    song: Song, part: int, start: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.int16]]:
    """State of controllers 65 and 84 at each note of a part; those of the same tick count."""
    changes, owner = song.changes, song.parts[part]
    gliding = np.zeros(len(start), dtype=bool)
    source = np.full(len(start), -1, dtype=np.int16)
    rows = np.flatnonzero((changes.kind == CONTROLLER) & (changes.channel == owner.channel))
    rows = rows[_STEERS[changes.number[rows]]]
    if not len(rows):
        return gliding, source
    found = changes.take(rows)
    found = found.take(heard_by(song, owner.track, found))
    switch = found.take(found.number != SOURCE_NOTE)
    on = np.where(switch.number == SWITCH, switch.value >= 64, False)  # a reset turns it off
    place = np.searchsorted(switch.tick, start, side="right")
    gliding = np.append(False, on)[place]
    named = found.take(found.number == SOURCE_NOTE)
    place = np.searchsorted(named.tick, start, side="right") - 1
    fresh = place >= 0  # only the first note after the controller
    fresh[1:] &= place[1:] > place[:-1]
    source[fresh] = named.value[place[fresh]]
    return gliding, source


def hear_glides(voice: Voice, glide_s: float, overlaps: bool) -> tuple[Glides, NDArray[np.int64]]:
    """The glides of a part, and the tick at which each of its notes was struck (int64 [n]).

    ``overlaps``: overlapping notes glide (`legato.overlaps_glide`), else each is struck. Only
    notes that overlap or that a controller makes glide are visited one by one.
    """
    found = Glides()
    struck = voice.start.copy()
    n = len(struck)
    if n < 2 or not overlaps or not (voice.mono or (voice.glides_from >= 0).any()):
        return found, struck
    furthest = np.maximum.accumulate(voice.end)
    overlapped = np.append(False, voice.start[1:] < furthest[:-1]) & voice.mono
    by_controller = (voice.gliding & voice.mono) | (voice.glides_from >= 0)
    wanted = overlapped | by_controller
    wanted[:-1] |= overlapped[1:]
    sweep = _Sweep(voice, glide_s, ragged_overlap_s(voice, glide_s), found, struck)
    for k in np.flatnonzero(wanted).tolist():
        sweep.strike(k)
    sweep.release(FOREVER, float("inf"))
    return found, struck


def ragged_overlap_s(voice: Voice, glide_s: float) -> float:
    """Length up to which overlaps of this part are ragged legato and no slides; 0 where none."""
    longest = RAGGED_OVERLAP * glide_s
    overlap = (voice.end_s[:-1] - voice.start_s[1:])[voice.start[1:] > voice.start[:-1]]
    short = int(np.count_nonzero((overlap > 0) & (overlap <= longest)))
    ragged = short >= RAGGED_LEAST and short > RAGGED_SHARE * len(overlap)
    return longest if ragged else 0.0


class _Sweep:
    """One mono voice with last-note priority, note by note."""

    def __init__(
        self,
        voice: Voice,
        glide_s: float,
        ragged_s: float,
        found: Glides,
        struck: NDArray[np.int64],
    ) -> None:
        self.start = voice.start.tolist()
        self.end = voice.end.tolist()
        self.pitch = voice.pitch.tolist()
        self.start_s = voice.start_s.tolist()
        self.end_s = voice.end_s.tolist()
        self.gliding = voice.gliding.tolist()
        self.glides_from = voice.glides_from.tolist()
        self.following = voice.following.tolist()
        self.voice, self.glide_s, self.ragged_s = voice, glide_s, ragged_s
        self.found, self.struck = found, struck
        self.held: list[int] = []
        self.current = -1
        self.path = (0.0, 0.0, 0.0)  # moment, from, to of the last glide

    def strike(self, k: int) -> None:
        """Play note k: a glide where the voice is held or a controller says so, else an attack."""
        start, moment = self.start[k], self.start_s[k]
        self.release(start, moment)
        if self.ragged_s:
            self.held = [j for j in self.held if self.end_s[j] - moment > self.ragged_s]
        if self.current < 0 or (not self.held and self.current != k - 1):
            self._rest_at(k - 1, moment)
        top = self.held[-1] if self.held else -1
        if top >= 0 and self.start[top] == start:  # a chord: struck together
            self.struck[k] = self.struck[top]
            self._rest_at(k, moment)
        else:
            self._arrive(k, top, moment)
        self.held.append(k)
        self.current = k

    def _arrive(self, k: int, top: int, moment: float) -> None:
        named, switch = self.glides_from[k], self.gliding[k]
        source, origin = top, self._pitch_at(moment)
        if named >= 0:
            earlier = np.flatnonzero(self.voice.pitch[:k] == named)
            source, origin = (int(earlier[-1]) if len(earlier) else k), float(named)
            legato = source in self.held
        else:
            legato = top >= 0
            if not legato and switch:
                source = k - 1
        by_controller = named >= 0 or switch
        glides = source >= 0 and (by_controller or (legato and not self.voice.switched))
        if legato:
            self.struck[k] = self.struck[source]
        target = float(self.pitch[k])
        if not glides or abs(origin - target) < LEAST_SLIDE:
            self._rest_at(k, moment)
            return
        met = min(self.end[source], self.end[k]) - self.start[k] if legato else 0
        until = min(self.end[k], self.following[k])
        how = "portamento" if by_controller else "overlap"
        self._add(k, source, self.start[k], origin, until, met, how)
        self.path = (moment, origin, target)

    def release(self, tick: int, moment: float) -> None:
        """Let go of what ends up to ``tick``, gliding back to what is still held."""
        while self.held and self.end[self.held[-1]] <= tick:
            top = self.held.pop()
            at, at_s = self.end[top], self.end_s[top]
            self.held = [j for j in self.held if self.end[j] > at]
            if not self.held:
                return
            back = self.held[-1]
            origin, target = self._pitch_at(at_s), float(self.pitch[back])
            lasts = min(self.end_s[back], moment) - at_s
            silent = self.voice.switched and not self.gliding[top]
            same = abs(origin - target) < LEAST_SLIDE or self.start[back] == self.start[top]
            if lasts > max(EDGE_S, self.ragged_s) and not silent and not same:
                until = min(self.end[back], tick)
                how = "portamento" if self.gliding[top] else "overlap"
                self.struck[back] = min(self.struck[back], self.struck[top])
                self._add(back, top, at, origin, until, self.end[back] - at, how)
                self.path = (at_s, origin, target)
            else:
                self.path = (at_s, target, target)

    def _add(
        self, note: int, source: int, start: int, origin: float, until: int, met: int, how: str
    ) -> None:
        found = self.found
        found.note.append(note)
        found.source.append(source)
        found.start.append(start)
        found.origin.append(origin)
        found.target.append(float(self.pitch[note]))
        found.onset.append(int(self.struck[note]))
        found.until.append(until)
        found.overlap.append(met)
        found.how.append(how)

    def _rest_at(self, k: int, moment: float) -> None:
        pitch = float(self.pitch[k]) if k >= 0 else 0.0
        self.path = (moment, pitch, pitch)

    def _pitch_at(self, moment: float) -> float:
        """Where the voice stands: glides are taken to be straight in semitones."""
        begun, origin, target = self.path
        if self.glide_s <= 0 or moment - begun >= self.glide_s:
            return target
        return origin + (target - origin) * max(moment - begun, 0.0) / self.glide_s
