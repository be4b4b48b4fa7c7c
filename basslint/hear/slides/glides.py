"""Which notes of a mono part glide into each other, and from when on has their sound rung?

An overlap on a mono voice that glides is a glide from the note that sounds to the later one,
without a new attack; when the later note ends first, the voice glides back to the note still held.
With controller 65 on, every note glides from the one before it; controller 84 names the note that
the next one glides from (MIDI 1.0 detailed specification). How long a glide takes is in no file.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.voice import EDGE_S, FOREVER, Voice
from basslint.util.columns import rows_where
from basslint.util.records import field, record

# Common practice, no source, for all of these:
LEAST_SLIDE = 0.5  # semitones: less is expression, not a slide
RAGGED_OVERLAP = 0.2  # of the glide time: overlaps up to this are how most hands play legato …
RAGGED_LEAST = 8  # … where there are at least this many
RAGGED_SHARE = 0.5  # … and they are most of the part's notes: then none of them is a slide


@record(frozen=False, kw_only=True)
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


def hear_glides(voice: Voice, glide_s: float, overlaps: bool) -> tuple[Glides, NDArray[np.int64]]:
    """The glides of a part, and the tick at which each of its notes was struck (int64 [n]).

    ``overlaps``: overlapping notes glide (`legato.overlaps_glide`), else each is struck. Only
    notes that overlap or that a controller makes glide are visited one by one.
    """
    found = Glides()
    struck = voice.start.copy()
    n = len(struck)
    if n < 2 or not overlaps or not (voice.mono or np.count_nonzero(voice.glides_from >= 0)):
        return found, struck
    furthest = np.maximum.accumulate(voice.end)
    overlapped = np.concatenate(([False], voice.start[1:] < furthest[:-1])) & voice.mono
    by_controller = (voice.gliding & voice.mono) | (voice.glides_from >= 0)
    wanted = overlapped | by_controller
    wanted[:-1] |= overlapped[1:]
    sweep = _Sweep(voice, glide_s, ragged_overlap_s(voice, glide_s), found, struck)
    for k in rows_where(wanted).tolist():
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
            earlier = rows_where(self.voice.pitch[:k] == named)
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
        """Release the keys that end up to ``tick``; the voice glides back to a key still held."""
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
