"""What was heard, drawn: the parts, the keys, and a map of the song eight bars a row."""

from __future__ import annotations

from typing import TextIO

import numpy as np
from rich.cells import cell_len, set_cell_size

from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import LOOP
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.song_map import song_map
from basslint.report.heading import song_facts
from basslint.report.paper import Paper, kept
from basslint.theory.names import key_name, pitch_name

MOST_LISTED = 12  # slides and fills in words; the map shows all of them


def print_chart(chart: Chart, stream: TextIO, middle_c: int = 4, width: int | None = None) -> None:
    """Write a chart as text; ``width`` overrides the terminal's."""
    paper = Paper(stream, middle_c, width)
    paper.line(Segment(chart.path, "heading"))
    paper.paragraph(
        [Segment(" · ".join(map(kept, song_facts(chart))), "quiet")], indent=2, hanging=2
    )
    for title, show in (
        ("parts", _parts),
        ("key", _keys),
        ("tempo and meter", _time),
        *((("loop", _loops),) if _taken(chart) else ()),
        ("map", _map),
        ("slides", _slides),
        ("fills", _fills),
    ):
        paper.blank()
        paper.line(Segment(title, "focus"))
        show(paper, chart)


def _parts(paper: Paper, chart: Chart) -> None:
    """Number, name, role with certainty, compass; the evidence below where there is any."""
    heard, look = chart.parts, paper.look
    names = [p.name for p in chart.song.parts]
    widest = min(max((cell_len(n) for n in names), default=0), max(look.width - 46, 8))
    for i, part in enumerate(chart.song.parts):
        mark = marks.ROLE_MARKS[heard.role[i]]
        short = part.name if cell_len(part.name) <= widest else f"{part.name[: widest - 1]}…"
        stated = bool(heard.stated[i])
        sure = "stated" if stated else f"{marks.percent(float(heard.certainty[i]))} sure"
        low = pitch_name(part.lowest, middle_c=look.middle_c)
        high = pitch_name(part.highest, middle_c=look.middle_c)
        notes = marks.counted(part.notes, "note")
        compass = notes if heard.role[i] == "drums" else f"{notes}, {low}–{high}"
        lead = f"{f'#{part.number}':>4}  {set_cell_size(short, widest)}  "
        words = [
            Segment(lead, "plain"),
            Segment(f"{mark.drawn(look.unicode)} {mark.word:<7}", mark.style),
            Segment(f"  {sure:<9}", "plain"),
            Segment(f"  {compass}", "quiet"),
        ]
        paper.paragraph(words, hanging=6)
        if heard.evidence[i] and not stated:
            paper.paragraph([Segment(heard.evidence[i], "quiet")], indent=8, hanging=8)
    if not chart.song.parts:
        paper.paragraph([Segment("the file holds no notes", "plain")], indent=2)
    elif not chart.parts.bass:
        paper.paragraph(
            [Segment("no part is the bass; name one with --bass", "plain")], indent=2, hanging=2
        )


def _keys(paper: Paper, chart: Chart) -> None:
    keys, grid = chart.keys, chart.song.grid
    stated = chart.facts.key is not None
    for row, tonic in enumerate(keys.tonic.tolist()):
        first = int(grid.bar_of(int(keys.start[row]))) + 1
        last = int(grid.bar_of(max(int(keys.end[row]) - 1, 0))) + 2
        name = key_name(tonic, keys.mode[row]) if tonic >= 0 else "not told"
        spelled = chart.spelling_at(int(keys.start[row]))
        sure = f"{marks.percent(float(keys.certainty[row]))} sure"
        notes = marks.percent(float(keys.scale_certainty[row]))  # relative keys share them
        sure = "stated" if stated else f"{sure}, its notes {notes}"
        words = [
            Segment(marks.bar_list([(first, last)]), "quiet"),
            Segment(f"  {name}", "root"),
            Segment(f"  {sure}", "plain"),
        ]
        if tonic >= 0:
            words.append(Segment(f"  {' '.join(spelled[p] for p in keys.rising(row))}", "quiet"))
        paper.paragraph(words, indent=2, hanging=4)
    if not len(keys.tonic):
        paper.paragraph([Segment("not told: nothing pitched sounds", "plain")], indent=2)


def _loops(paper: Paper, chart: Chart) -> None:
    """How each loop was taken, what was wrong with it, and where its chords move."""
    for remark in _taken(chart):
        paper.paragraph([Segment(remark, "plain")], indent=2, hanging=4)


def _taken(chart: Chart) -> list[str]:
    return [] if chart.loops is None else [*chart.loops.remarks, *_glides(chart)]


def _glides(chart: Chart) -> list[str]:
    """Between which chords loops glide, and in which bars."""
    roots = chart.roots
    bars: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for row in np.flatnonzero((roots.root < 0) & (roots.source == LOOP)).tolist():
        if 0 < row < len(roots) - 1:
            start = int(roots.start[row])
            ends = [marks.chord_at(roots, k, chart.spelling_at(start)) for k in (row - 1, row + 1)]
            bar = int(chart.song.grid.bar_of(start)) + 1
            beat = marks.number(float(chart.song.grid.beat_of(start)))
            bars.setdefault((f"{ends[0]} moves to {ends[1]}", beat), []).append((bar, bar + 1))
    return [
        f"{what} (~ below): {marks.bar_list(b)}, beat {beat}" for (what, beat), b in bars.items()
    ]


def _time(paper: Paper, chart: Chart) -> None:
    song, grid = chart.song, chart.song.grid
    tempo = [
        f"{_bar(chart, int(t))} {marks.number(60e6 / int(u), 1)} bpm"
        for t, u in zip(song.tempo.tick, song.tempo.usec, strict=True)
    ]
    meter = [
        f"{_bar(chart, int(t))} {n}/{d}"
        for t, n, d in zip(
            grid.change_tick, grid.change_numerator, grid.change_denominator, strict=True
        )
    ]
    for entries, stated in ((tempo, song.tempo.stated), (meter, grid.stated)):
        shown = entries[:MOST_LISTED]
        more = f", and {len(entries) - len(shown)} more" if len(entries) > len(shown) else ""
        assumed = "" if stated else " (the file states none)"
        words = f"{', '.join(shown)}{more}{assumed}"
        paper.paragraph([Segment(words, "plain")], indent=2, hanging=4)


def _map(paper: Paper, chart: Chart) -> None:
    for count, system in enumerate(song_map(chart, paper.look)):
        if count:
            paper.blank()
        paper.drawing(system)


def _slides(paper: Paper, chart: Chart) -> None:
    slides, song, look = chart.slides, chart.song, paper.look
    lines: list[str] = []
    for row in range(min(len(slides.part), MOST_LISTED)):
        start = int(slides.start[row])
        spelled = chart.spelling_at(start)
        ends = [
            _fractional(float(p), spelled, look.middle_c)
            for p in (slides.origin[row], slides.target[row])
        ]
        level = float(slides.level_db[row])
        fallen = f", lands at {level:.1f} dB" if level == level else ""
        lines.append(
            f"{_place(chart, start)}: {ends[0]} to {ends[1]}, {slides.how[row]}{fallen}"
            + _of(chart, int(slides.part[row]), len(song.parts))
        )
    _list(paper, lines, len(slides.part))


def _fills(paper: Paper, chart: Chart) -> None:
    fills = chart.fills
    lines = [
        f"{_place(chart, int(fills.start[i]))}: {marks.counted(int(fills.hits[i]), 'hit')}, "
        f"{fills.grid[i]}, velocity {fills.velocity[i]}"
        + _of(chart, int(fills.part[i]), len(chart.song.parts))
        for i in range(min(len(fills.part), MOST_LISTED))
    ]
    _list(paper, lines, len(fills.part))


def _of(chart: Chart, part: int, parts: int) -> str:
    return f" ({chart.song.parts[part].name})" if parts > 1 else ""


def _list(paper: Paper, lines: list[str], count: int) -> None:
    for line in lines:
        paper.paragraph([Segment(line, "plain")], indent=2, hanging=4)
    if count > len(lines):
        words = f"and {count - len(lines)} more; --format json lists all"
        paper.paragraph([Segment(words, "quiet")], indent=2, hanging=4)
    if not count:
        paper.paragraph([Segment("none heard", "quiet")], indent=2)


def _bar(chart: Chart, tick: int) -> str:
    return f"bar {int(chart.song.grid.bar_of(tick)) + 1}"


def _place(chart: Chart, tick: int) -> str:
    grid = chart.song.grid
    return marks.spot(int(grid.bar_of(tick)) + 1, float(grid.beat_of(tick)))


def _fractional(pitch: float, spelled: tuple[str, ...], middle_c: int) -> str:
    """``F#1`` or, off the semitones, ``F#1 +50 cents``."""
    near = round(pitch)
    cents = round(100 * (pitch - near))
    name = pitch_name(near, spelled, middle_c)
    return f"{name} {cents:+} cents" if cents else name
