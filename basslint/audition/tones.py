"""Which unbroken tones does the bass play? One per stroke, every slide and bend in its curve."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from basslint.audition.voices import Samples, Tone
from basslint.hear.chart import Chart
from basslint.song.bends import BendCurve, hear_bends

LEVEL = 0.7  # of full scale at velocity 127
_STEP_S = 1e-4  # a wheel event is a step; this is how steep its line is drawn
_TAIL_S = 0.1  # a released note still follows the wheel


@dataclass(slots=True, kw_only=True)
class _Chain:
    """A stroke in the making: its first note, its end in ticks, and its knots (tick, pitch)."""

    part: int
    velocity: int
    start: int
    end: int
    knots: list[tuple[int, float]] = field(default_factory=list)

    def glide(self, start: int, land: int, origin: float, target: float, end: int) -> None:
        """Slide on; a slide that is under way when the next begins ends there."""
        self.knots = [k for k in self.knots if k[0] < start]
        self.knots += [(start, origin), (max(land, start + 1), target)]
        self.end = max(self.end, end)


def bass_tones(chart: Chart, first: int, last: int, parts: tuple[int, ...] = ()) -> list[Tone]:
    """The tones of the bass that sound between two ticks, those held from before among them.

    ``parts``: only these bass parts; empty: all. A legato note sounds in the tone of the note that
    it slides from. A one-shot rings on until the next stroke of its part.
    """
    song, facts = chart.song, chart.facts
    seconds = song.tempo.seconds
    curves = hear_bends(song, chart.parts.bass, facts.bend_range)
    rings = facts.decay_s if facts.one_shot and facts.decay_s else 0.0
    tones: list[Tone] = []
    for part in parts or chart.parts.bass:
        chains = _chains(chart, part, curves.get(part))
        starts = np.array([c.start for c in chains], dtype=np.int64)
        begins, ends = seconds(starts), seconds(np.array([c.end for c in chains], dtype=np.int64))
        strokes = np.unique(starts)
        coming = np.append(seconds(strokes), np.inf)
        following = coming[np.searchsorted(strokes, starts, side="right")]
        ends = np.maximum(ends, np.minimum(begins + rings, following)) if rings else ends
        knots = np.array([tick for c in chains for tick, _ in c.knots], dtype=np.int64)
        times = np.split(seconds(knots), np.cumsum([len(c.knots) for c in chains])[:-1])
        for i in np.flatnonzero((starts < last) & (ends > seconds(first))).tolist():
            span = float(begins[i]), float(ends[i])
            tones.append(_tone(chart, chains[i], *span, times[i], curves.get(part)))
    return tones


def _chains(chart: Chart, part: int, curve: BendCurve | None) -> list[_Chain]:
    """The strokes of a bass part in order of their first notes, with the slides that follow.

    Their knots leave the wheel out, which the ends of slides contain.
    """
    notes, slides = chart.song.notes, chart.slides
    mine = np.flatnonzero((slides.part == part) & (np.array(slides.how, dtype=object) != "bend"))
    arrives: dict[int, bool] = {}  # note of a slide at its own start -> struck anew
    for i in mine.tolist():
        note = int(slides.note[i])
        if slides.start[i] == notes.start[note] and note not in arrives:
            arrives[note] = bool(slides.onset[i] == slides.start[i])
    chains: dict[int, _Chain] = {}
    rows = np.flatnonzero(notes.part == part).tolist()
    for row in rows:
        if arrives.get(row, True):
            start, end = int(notes.start[row]), int(notes.end[row])
            chain = _Chain(part=part, velocity=int(notes.velocity[row]), start=start, end=end)
            chain.knots.append((start, float(notes.pitch[row])))
            chains[row] = chain
    chain_of = dict(chains)
    for i in mine.tolist():
        note, source = int(slides.note[i]), int(slides.source_note[i])
        home = chain_of.get(note) or chain_of.get(source)
        if home is None:  # it slides from a note that is too short to be heard
            home = chains[note] = _Chain(
                part=part,
                velocity=int(notes.velocity[note]),
                start=int(notes.start[note]),
                end=int(notes.end[note]),
            )
        chain_of[note] = home
        start, land = int(slides.start[i]), int(slides.land[i])
        bent = curve.at(np.array([start, land])) if curve else np.zeros(2)
        origin = float(slides.origin[i] - bent[0])
        target = float(slides.target[i] - bent[1])
        home.glide(start, land, origin, target, int(notes.end[note]))
    return sorted(chains.values(), key=lambda c: c.start)


def _tone(
    chart: Chart,
    chain: _Chain,
    start: float,
    end: float,
    times: Samples,
    curve: BendCurve | None,
) -> Tone:
    pitches = np.array([pitch for _, pitch in chain.knots])
    if curve is not None:
        times, pitches = _bent(chart, curve, times, pitches, start, end)
    level = LEVEL * chain.velocity / 127
    return Tone(start=start, end=end, level=level, times=times, pitches=pitches, part=chain.part)


def _bent(
    chart: Chart, curve: BendCurve, times: Samples, pitches: Samples, start: float, end: float
) -> tuple[Samples, Samples]:
    """The knots with the wheel's steps between ``start`` and ``end`` added."""
    moved = chart.song.tempo.seconds(curve.tick)
    bent = np.concatenate(([0.0], curve.semitones))
    near = np.searchsorted(moved, [start, end + _TAIL_S], side="right")
    before = int(near[0])
    moved, bent = moved[before : int(near[1])], bent[before : int(near[1]) + 1]
    every = np.unique(np.concatenate((times, moved, moved - _STEP_S)))
    every = every[every >= min(start, float(times[0]))]
    raised = np.interp(every, times, pitches) + bent[np.searchsorted(moved, every, side="right")]
    return every, raised
