"""How is an example of a rule shown on a page: as flagged, as mended, and as it is right?

A plate is one beat that the rule speaks of, drawn and heard as it stands and as it is once mended,
and beside it the beat of the page that is clean.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np

from basslint.audition.difference import chart_of, stretch_of
from basslint.audition.tones import bass_tones
from basslint.audition.voices import Tone
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import FileReport
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.report.drawing.roll import roll_data
from basslint.report.formats.page_song import json_within, marks_of
from basslint.report.grouping import grouped
from basslint.rulebook.model import Example, Rule
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.util.columns import found_in
from basslint.util.records import record

FLAGGED, MENDED, CLEAN = "flagged", "mended", "clean"
RINGS_S = 6.0  # T60 where a beat does not say: what is held too long must be heard

_SHOWN_BARS = 4  # of a beat in which nothing is flagged
_SAME = 4  # decimals of seconds and semitones that sounds are compared by


@record(kw_only=True)
class Plate:
    """One example as a page shows it. ``sides``: what can be seen and heard of it, of `FLAGGED`,
    `MENDED` and `CLEAN`; ``examples``: which of the rule's the flagged and the clean one are, from
    0; ``alike``: those of the sides that sound as the first does; ``messages``: what the rule says
    of it, and of its fix; ``beat``: its text; ``data``: what the script reads."""

    id: str
    sides: tuple[str, ...]
    examples: dict[str, int]
    alike: tuple[str, ...]
    messages: tuple[str, ...]
    beat: str
    data: str


@record(eq=False)
class _Heard:
    """A beat as it was heard: its chart and the tones of its bass."""

    chart: Chart
    tones: list[Tone]


@cache
def plates_of(rule: Rule, middle_c: int = 4) -> tuple[Plate, ...]:
    """The examples of a rule: a plate for each that is flagged, with the clean one that follows it
    (or the first there is); clean ones that are nobody's have a plate of their own."""
    flagged = [n for n, e in enumerate(rule.examples) if e.flagged]
    clean = [n for n, e in enumerate(rule.examples) if not e.flagged]
    used: set[int] = set()
    plates = []
    for n in flagged:
        other = next((m for m in clean if m > n), next(iter(clean), None))
        used |= {other} if other is not None else set()
        plates.append(_plate(rule, n, other, middle_c))
    return (*plates, *(_plate(rule, n, None, middle_c) for n in clean if n not in used))


def _plate(rule: Rule, n: int, other: int | None, middle_c: int) -> Plate:
    """The plate of example ``n``, with the clean one of number ``other`` beside it."""
    example = rule.examples[n]
    report = _report(example, rule)
    heard = _listened(report)
    groups = grouped(report.findings)
    at = next(
        (g for g in groups if g.first.where.bar == example.bar), groups[0] if groups else None
    )
    span = _first_bars(heard.chart)
    if at is not None:
        stretch = stretch_of(heard.chart, at.first)
        span = stretch.start, stretch.end
    first = FLAGGED if example.flagged else CLEAN
    songs = [_song(heard, middle_c)]
    sides: dict[str, dict[str, Any]] = {first: {"song": 0, "span": span, **_tuned(heard.chart)}}
    alike = []
    if example.flagged:
        after = _mended(report, rule)
        if after is not None:
            songs.append(_song(after, middle_c))
            sides[MENDED] = {**sides[first], "song": len(songs) - 1}
            alike += [MENDED] if _sounds(heard, span) == _sounds(after, span) else []
    numbers = {first: n}
    if other is not None:
        numbers[CLEAN] = other
        clean = _listened(_report(rule.examples[other], rule))
        songs.append(_song(clean, middle_c))
        there = _same_bars(heard.chart, clean.chart, span)
        sides[CLEAN] = {"song": len(songs) - 1, "span": there, **_tuned(clean.chart)}
        alike += [CLEAN] if _sounds(heard, span) == _sounds(clean, there) else []
    data = {"songs": songs, "sides": sides, "findings": [marks_of(heard.chart, g) for g in groups]}
    fix = at.first.fix if at is not None else None
    messages = (at.first.message, fix.title if fix is not None else "") if at is not None else ()
    return Plate(
        id=f"{rule.name}-{n + 1}",
        sides=tuple(sides),
        examples=numbers,
        alike=tuple(alike),
        messages=tuple(m for m in messages if m),
        beat=example.text,
        data=json_within(data),
    )


def _report(example: Example, rule: Rule) -> FileReport:
    """An example judged by its rule alone, by the same path as any song."""
    beat = compile_beat(example.text)
    return _judged(Chart(build(scan(beat.data)), beat.facts), rule)


def _judged(chart: Chart, rule: Rule) -> FileReport:
    verdict = judge(chart, (rule,))
    return FileReport(path="example", chart=chart, findings=verdict.findings)


def _listened(report: FileReport) -> _Heard:
    chart = report.chart
    assert chart is not None  # an example that cannot be read raises
    return _Heard(chart, bass_tones(chart, 0, int(chart.song.grid.start[-1])))


def _mended(report: FileReport, rule: Rule) -> _Heard | None:
    """The beat as it is once mended, None where nothing was."""
    chart = report.chart
    assert chart is not None  # as in `_listened`

    def again(data: bytes) -> FileReport:
        if data == chart.song.scan.data:
            return report
        return _judged(Chart(build(scan(data)), chart.facts), rule)

    result = mend(chart.song.scan.data, again, Choice(by_ear=True))
    if not result.applied:
        return None
    after = chart_of(build(scan(result.data)), chart)
    return _Heard(after, bass_tones(after, 0, int(after.song.grid.start[-1])))


def _song(heard: _Heard, middle_c: int) -> dict[str, Any]:
    chart = heard.chart
    data = roll_data(chart, heard.tones, middle_c)
    return {**data, "decay": chart.facts.decay_s or RINGS_S}


def _tuned(chart: Chart) -> dict[str, float]:
    """By how many cents the bass and the loop sound off their notes, where that is stated."""
    facts, tuning = chart.facts, chart.tuning
    if facts.sound_pitch is None:
        bass = facts.sound_cents or 0.0
    else:  # what the sampler makes of the line, where it is not judged at that
        bass = 100.0 * (tuning.apart or 0) if tuning.fits != "sounding" else 0.0
    return {"bass": bass, "loop": facts.loop_cents or 0.0}


def _first_bars(chart: Chart) -> tuple[int, int]:
    grid = chart.song.grid
    return 0, int(grid.start[min(_SHOWN_BARS, grid.bars)])


def _same_bars(chart: Chart, other: Chart, span: tuple[int, int]) -> tuple[int, int]:
    """The bars of another beat that stand where a stretch stands in the first one."""
    grid, there = chart.song.grid, other.song.grid
    first, last = int(grid.bar_of(span[0])), int(grid.bar_of(span[1] - 1))
    if last >= there.bars:
        return _first_bars(other)
    return int(there.start[first]), int(there.start[last + 1])


def _sounds(heard: _Heard, span: tuple[int, int]) -> Sequence[object]:
    """All that sounds in a stretch, so that two of them can be compared."""
    chart = heard.chart
    notes, seconds = chart.song.notes, chart.song.tempo.seconds
    zero, end = float(seconds(span[0])), float(seconds(span[1]))
    tones = [
        (round(t.start - zero, _SAME), round(t.end - zero, _SAME), round(t.level, _SAME),
         tuple(np.round(t.times - zero, _SAME)), tuple(np.round(t.pitches, _SAME)))
        for t in heard.tones
        if t.start < end and t.end > zero
    ]  # fmt: skip
    others = (notes.start < span[1]) & (notes.end > span[0])
    others &= ~found_in(notes.part, chart.parts.bass)
    begin = np.round(seconds(notes.start[others]) - zero, _SAME).tolist()
    rows = zip(begin, notes.pitch[others].tolist(), notes.velocity[others].tolist(), strict=True)
    ring = chart.facts.decay_s or RINGS_S
    return [round(end - zero, _SAME), ring, _tuned(chart), sorted(tones), sorted(rows)]
