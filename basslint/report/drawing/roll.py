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
from basslint.theory.chords import QUALITIES
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
    song, roles = chart.song, chart.parts.role
    end = int(song.grid.start[-1])
    drums = np.isin(song.notes.part, chart.parts.drums)
    pitched = song.notes.take(~drums)
    top = int(pitched.pitch.max(initial=60)) + 1
    low = int(pitched.pitch.min(initial=36)) - 1
    scale = UNITS / max(end, 1)
    layers = []
    for role in ("harmony", "other", "melody", "bass"):
        parts = [i for i, r in enumerate(roles) if r == role]
        notes = pitched.take(np.isin(pitched.part, parts))
        if len(notes):
            layers.append(Layer(role, _path(notes, top - notes.pitch.astype(np.int64), scale)))
    hits = song.notes.take(drums)
    keys, lane = np.unique(hits.pitch, return_inverse=True)
    starts = song.grid.start

    def span(start: int, stop: int, text: str, title: str = "") -> Span:
        left = 100 * start / max(end, 1)
        return Span(round(left, 4), round(100 * stop / max(end, 1) - left, 4), text, title or text)

    def bar_span(first: int, last: int, text: str, title: str) -> Span:
        return span(int(starts[first]), int(starts[min(last, song.grid.bars)]), text, title)

    phrases, fills, roots, heard = chart.phrases, chart.fills, chart.roots, chart.keys
    return Roll(
        bars=song.grid.bars,
        rows=top - low + 1,
        names=tuple(
            (top - p, pitch_name(p, middle_c=middle_c)) for p in range(low, top) if p % 12 == 0
        ),
        ruler=tuple(
            span(int(starts[b]), int(starts[b + 1]), str(b + 1)) for b in range(song.grid.bars)
        ),
        lines="".join(f"M{round(int(t) * scale)} 0V{top - low + 1}" for t in starts[:-1]),
        roots=tuple(
            span(
                int(roots.start[i]),
                int(roots.end[i]),
                marks.chord_name(
                    int(roots.root[i]),
                    QUALITIES[int(roots.quality[i])],
                    chart.spelling_at(int(roots.start[i])),
                ),
                f"{marks.percent(float(roots.certainty[i]))} sure",
            )
            for i in range(len(roots.start))
        ),
        keys=tuple(
            span(
                int(heard.start[i]),
                int(heard.end[i]),
                key_name(int(heard.tonic[i]), heard.mode[i]),
                f"{marks.percent(float(heard.certainty[i]))} sure",
            )
            for i in range(len(heard.start))
        ),
        phrases=tuple(
            bar_span(int(phrases.start_bar[i]), int(phrases.end_bar[i]), phrases.label[i],
                     f"phrase {phrases.label[i]}: {phrases.why[i]}")
            for i in range(len(phrases.start_bar))
        ),
        fills=tuple(
            span(int(fills.start[i]), int(fills.end[i]), marks.FILL.sign,
                 f"{int(fills.hits[i])} hits, {fills.grid[i]}, {fills.velocity[i]}")
            for i in range(len(fills.start))
        ),
        layers=tuple(layers),
        drums=_path(hits, lane.astype(np.int64), scale, thin=True),
        drum_rows=len(keys),
        spots=tuple(
            Spot(
                ident,
                f.level,
                *_place(f.where.tick, f.where.end_tick, end),
                top - f.pitch if f.pitch is not None and low <= f.pitch <= top else 0,
                f"{f.level}, bar {f.where.bar}, beat {marks.number(f.where.beat)}: {f.message}",
            )
            for ident, f in findings
        ),
    )  # fmt: skip


def _place(start: int, stop: int, end: int) -> tuple[float, float]:
    left = 100 * start / max(end, 1)
    return round(left, 4), round(max(100 * (stop - start) / max(end, 1), _LEAST_SHARE), 4)


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
