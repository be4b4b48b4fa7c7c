"""How is an arrangement laid out as a long roll? Geometry alone, in shares of the whole.

Places in time are percentages of the song's length, so that the page can stretch the roll without
new numbers; pitch is counted in rows from the top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.report.drawing import marks
from basslint.song.arrangement import Notes
from basslint.theory.names import key_name, pitch_name

UNITS = 10_000  # horizontal units of the drawing: ticks would lose themselves in SVG's floats
_LEAST_SHARE = 0.02  # percent: a note is never thinner than this


@dataclass(frozen=True, slots=True)
class Span:
    """A labelled stretch in a lane: ``left`` and ``width`` in percent of the song."""

    left: float
    width: float
    text: str
    title: str


@dataclass(frozen=True, slots=True)
class Layer:
    """The notes of one role as one SVG path."""

    role: str
    path: str


@dataclass(frozen=True, slots=True)
class Spot:
    """A finding in its place: a link to ``id``."""

    id: str
    level: str
    left: float
    width: float
    row: int
    label: str


@dataclass(frozen=True, slots=True)
class Roll:
    """A song's picture: lanes of spans, layers of notes over ``rows`` pitch rows, spots."""

    bars: int
    rows: int
    names: tuple[tuple[int, str], ...]
    ruler: tuple[Span, ...]
    lines: str
    roots: tuple[Span, ...]
    keys: tuple[Span, ...]
    phrases: tuple[Span, ...]
    fills: tuple[Span, ...]
    layers: tuple[Layer, ...]
    drums: str
    drum_rows: int
    spots: tuple[Spot, ...]


def draw_roll(chart: Chart, findings: Sequence[tuple[str, Finding]], middle_c: int) -> Roll:
    """Lay out a chart with findings (anchor, finding)."""
    song = chart.song
    drums = np.isin(song.notes.part, chart.parts.drums)
    pitched, hits = song.notes.take(~drums), song.notes.take(drums)
    top = int(pitched.pitch.max(initial=60)) + 1
    low = int(pitched.pitch.min(initial=36)) - 1
    clock = _Clock(max(int(song.grid.start[-1]), 1), song.grid.start.tolist())
    keys, lane = np.unique(hits.pitch, return_inverse=True)
    names = ((top - p, pitch_name(p, middle_c=middle_c)) for p in range(low, top) if p % 12 == 0)
    return Roll(
        bars=song.grid.bars,
        rows=top - low + 1,
        names=tuple(names),
        ruler=tuple(clock.bars(bar, bar + 1, str(bar + 1)) for bar in range(song.grid.bars)),
        lines="".join(
            f"M{round(tick * clock.scale)} 0V{top - low + 1}" for tick in clock.lines[:-1]
        ),
        roots=_roots(chart, clock),
        keys=_keys(chart, clock),
        phrases=_phrases(chart, clock),
        fills=_fills(chart, clock),
        layers=_layers(chart, pitched, top, clock),
        drums=_path(hits, lane.astype(np.int64), clock.scale, thin=True),
        drum_rows=len(keys),
        spots=tuple(_spot(ident, f, low, top, clock) for ident, f in findings),
    )


@dataclass(frozen=True, slots=True)
class _Clock:
    """Where ticks lie in the drawing: ``end`` of the song, ``lines`` of its bars, in ticks."""

    end: int
    lines: list[int]

    @property
    def scale(self) -> float:
        """Horizontal units a tick."""
        return UNITS / self.end

    def percent(self, ticks: int) -> float:
        """A time as a share of the song."""
        return 100 * ticks / self.end

    def span(self, start: int, stop: int, text: str, title: str = "") -> Span:
        """A labelled stretch between two ticks."""
        left = self.percent(start)
        return Span(round(left, 4), round(self.percent(stop) - left, 4), text, title or text)

    def bars(self, first: int, after: int, text: str, title: str = "") -> Span:
        """A labelled stretch of bars from 0, ``after`` the last."""
        last = len(self.lines) - 1
        return self.span(self.lines[first], self.lines[min(after, last)], text, title)


def _roots(chart: Chart, clock: _Clock) -> tuple[Span, ...]:
    roots, spans = chart.roots, []
    for i, (start, end) in enumerate(zip(roots.start.tolist(), roots.end.tolist(), strict=True)):
        name = marks.chord_at(roots, i, chart.spelling_at(start))
        sure = marks.certainty(float(roots.certainty[i]), roots.source_name(i))
        spans.append(clock.span(start, end, name, sure))
    return tuple(spans)


def _keys(chart: Chart, clock: _Clock) -> tuple[Span, ...]:
    keys, spans = chart.keys, []
    for start, end, tonic, mode, sure in zip(
        *(c.tolist() for c in (keys.start, keys.end, keys.tonic)),
        keys.mode,
        keys.certainty.tolist(),
        strict=True,
    ):
        title = f"{marks.percent(sure)} sure"
        spans.append(clock.span(start, end, key_name(tonic, mode), title))
    return tuple(spans)


def _phrases(chart: Chart, clock: _Clock) -> tuple[Span, ...]:
    phrases = chart.phrases
    return tuple(
        clock.bars(first, after, label, f"phrase {label}: {why}")
        for first, after, label, why in zip(
            phrases.start_bar.tolist(),
            phrases.end_bar.tolist(),
            phrases.label,
            phrases.why,
            strict=True,
        )
    )


def _fills(chart: Chart, clock: _Clock) -> tuple[Span, ...]:
    fills = chart.fills
    return tuple(
        clock.span(start, end, marks.FILL.sign, f"{hits} hits, {grid}, {velocity}")
        for start, end, hits, grid, velocity in zip(
            *(c.tolist() for c in (fills.start, fills.end, fills.hits)),
            fills.grid,
            fills.velocity,
            strict=True,
        )
    )


def _layers(chart: Chart, pitched: Notes, top: int, clock: _Clock) -> tuple[Layer, ...]:
    """The notes of each role but the drums, the bass last: it is drawn over the others."""
    layers = []
    for role in ("harmony", "other", "melody", "bass"):
        parts = [i for i, r in enumerate(chart.parts.role) if r == role]
        notes = pitched.take(np.isin(pitched.part, parts))
        if len(notes):
            path = _path(notes, top - notes.pitch.astype(np.int64), clock.scale)
            layers.append(Layer(role, path))
    return tuple(layers)


def _spot(ident: str, f: Finding, low: int, top: int, clock: _Clock) -> Spot:
    width = max(clock.percent(f.where.end_tick - f.where.tick), _LEAST_SHARE)
    return Spot(
        ident,
        f.level,
        round(clock.percent(f.where.tick), 4),
        round(width, 4),
        top - f.pitch if f.pitch is not None and low <= f.pitch <= top else 0,
        f"{f.level}, {marks.spot(f.where.bar, f.where.beat, f.where.beats)}: {f.message}",
    )


def _path(notes: Notes, row: NDArray[np.int64], scale: float, thin: bool = False) -> str:
    """Notes as one path of rectangles, one unit high; hits of drums all as wide as a tick mark."""
    left = np.round(notes.start * scale).astype(np.int64)
    width = np.maximum(np.round((notes.end - notes.start) * scale).astype(np.int64), 1)
    if thin:
        width = np.full(len(width), 9)
    return "".join(
        f"M{x} {y}h{w}v.8h-{w}z"
        for x, y, w in zip(left.tolist(), row.tolist(), width.tolist(), strict=True)
    )
