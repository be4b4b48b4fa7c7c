"""How would a bass note stand if it were moved by some semitones and sixteenths?

Each answer is a check of the whole song with that one note moved: what it is to its chord and key,
how likely it is a slip, and which rules still speak of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from basslint.errors import BasslintError
from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.mending.patch import patched
from basslint.readings.against_harmony import in_chord, in_scale, semitones_above_root
from basslint.readings.slip import slip_chance
from basslint.rulebook.model import Level, Rule
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, Song, build
from basslint.util.records import record

SEMITONES = tuple(range(-6, 7))  # a tritone each way: every pitch class is among them
SIXTEENTHS = (-1, 0, 1)
HIGHEST = 127  # a MIDI number is a data byte of seven bits

ROOT, CHORD, SCALE, FOREIGN, UNTOLD = "root", "chord tone", "scale", "foreign", "untold"


@record(kw_only=True, eq=False)
class Nudge:
    """A note moved by ``semitones`` and ``sixteenths``: what it then is (``kind``: `ROOT`, `CHORD`,
    `SCALE`, `FOREIGN`, or `UNTOLD` where neither chord nor key is), how likely a slip (``chance``,
    0 to 1), which rules speak of it, and the ``chart`` of the song so moved."""

    semitones: int
    sixteenths: int
    kind: str
    chance: float
    spoken: tuple[tuple[str, Level], ...]
    chart: Chart


def note_of(chart: Chart, finding: Finding) -> int | None:
    """The row of song.notes that a finding on a bass note is about, None where it is about no note
    of the bass that could be moved."""
    if finding.part is None or finding.pitch is None:
        return None
    bass = chart.bass
    here = (bass.part == finding.part.number - 1) & (bass.start == finding.where.tick)
    rows = np.flatnonzero(here & (bass.pitch == finding.pitch))
    if len(rows) != 1:
        return None
    row = int(chart.bass_rows[rows[0]])
    return None if chart.song.notes.off_row[row] == NEVER else row


def nudges(chart: Chart, note: int, rules: Sequence[Rule]) -> Iterator[Nudge]:
    """Every move of a note, a row of song.notes, that can be written; as it stands among them.

    A move is left out where the note would leave the song or run into another of its pitch.
    """
    for sixteenths in SIXTEENTHS:
        for semitones in SEMITONES:
            nudge = nudge_to(chart, note, semitones, sixteenths, rules)
            if nudge is not None:
                yield nudge


def nudge_to(
    chart: Chart, note: int, semitones: int, sixteenths: int, rules: Sequence[Rule]
) -> Nudge | None:
    """One move of a note, a row of song.notes; None where it cannot be written."""
    song = chart.song if chart.song.scan.base == 0 else build(scan(chart.song.scan.data))
    moved = _moved(song, note, semitones, sixteenths * (song.division // 4))
    if moved is None:
        return None
    after = Chart(moved, chart.facts, chart.path, chart.loops).with_roots_of(chart)
    return _judged(after, song, note, semitones, sixteenths, rules)


def _moved(song: Song, note: int, semitones: int, ticks: int) -> Song | None:
    notes = song.notes
    part = song.parts[int(notes.part[note])]
    start, end, pitch = int(notes.start[note]), int(notes.end[note]), int(notes.pitch[note])
    if not 0 <= pitch + semitones <= HIGHEST or not 0 <= start + ticks < int(song.grid.start[-1]):
        return None
    if not semitones and not ticks:
        return song
    place = {"track": part.track, "channel": part.channel, "tick": start, "end_tick": end}
    edits = [
        Edit(do="pitch", before=pitch, after=pitch + semitones, **place) if semitones else None,
        Edit(do="move", before=start, after=start + ticks, pitch=pitch, **place) if ticks else None,
    ]
    try:
        return patched(song.scan.data, song, [e for e in edits if e is not None])[1]
    except BasslintError:
        return None


def _judged(
    after: Chart, song: Song, note: int, semitones: int, sixteenths: int, rules: Sequence[Rule]
) -> Nudge:
    notes = song.notes
    part = int(notes.part[note])
    start = int(notes.start[note]) + sixteenths * (song.division // 4)
    pitch = int(notes.pitch[note]) + semitones
    bass, written = after.bass, after.song.notes.pitch[after.bass_rows]
    rows = np.flatnonzero((bass.part == part) & (bass.start == start) & (written == pitch))
    kind, chance, sounds = UNTOLD, float("nan"), pitch
    if len(rows):  # else it is heard as no bass any more
        row = int(rows[0])
        kind, chance = _kind(after, row), float(slip_chance(after)[row])
        sounds = int(bass.pitch[row])
    spoken = [
        (f.rule, f.level)
        for f in judge(after, rules).findings
        if f.part is not None
        and f.part.number - 1 == part
        and (f.pitch == sounds and any(w.tick == start for w in f.places))
    ]
    return Nudge(
        semitones=semitones,
        sixteenths=sixteenths,
        kind=kind,
        chance=chance,
        spoken=tuple(dict.fromkeys(spoken)),
        chart=after,
    )


def _kind(chart: Chart, row: int) -> str:
    """What a bass note is to its chord, else to its key."""
    above = float(semitones_above_root(chart)[row])
    if above == 0:
        return ROOT
    if bool(in_chord(chart)[row]):
        return CHORD
    of_scale = in_scale(chart)[row]
    if of_scale is None:
        return UNTOLD if np.isnan(above) else FOREIGN
    return SCALE if of_scale else FOREIGN


def speaks_from(rule: Rule) -> float | None:
    """The chance of a lone slip from which a rule speaks, None where it does not go by it."""
    numbers = rule.numbers
    asked = [
        numbers[str(condition.operand[0])]
        for case in rule.cases
        for condition in case.conditions
        if condition.reading == "slip_chance" and condition.test == "above"
    ]
    return min(asked, default=None)
