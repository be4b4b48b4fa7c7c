"""How would a bass note stand if it were moved by some semitones and sixteenths?

Each answer is a check of the whole song with that one note moved: what it is to its chord and key,
how likely it is a slip, and which rules still speak of it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.one_note import spoken_of
from basslint.judging.results import Finding
from basslint.mending.bare import bare_song
from basslint.mending.meant import meant_song
from basslint.readings.against_harmony import in_chord, in_scale, semitones_above_root
from basslint.readings.slip import slip_chance
from basslint.rulebook.model import Level, Rule
from basslint.song.arrangement import NEVER, Song
from basslint.theory.general_midi import HIGHEST_KEY
from basslint.util.records import record

SEMITONES = tuple(range(-6, 7))  # a tritone each way: every pitch class is among them
SIXTEENTHS = (-1, 0, 1)
# (semitones, sixteenths): the moves that are asked for first, and those that combine both
STRAIGHT = (*((s, 0) for s in SEMITONES), *((0, t) for t in SIXTEENTHS if t))
COMBINED = tuple((s, t) for t in SIXTEENTHS for s in SEMITONES if s and t)

KINDS = ROOT, CHORD, SCALE, FOREIGN, UNTOLD = "root", "chord tone", "scale", "foreign", "untold"


@record(kw_only=True, eq=False)
class Nudge:
    """A note moved by ``semitones`` and ``sixteenths``: what it then is (``kind``: `ROOT`, `CHORD`,
    `SCALE`, `FOREIGN`, or `UNTOLD` where neither chord nor key is), how likely a slip (``chance``,
    0 to 1), which rules speak of it (None where they were not asked), and the ``chart`` of the song
    so moved."""

    semitones: int
    sixteenths: int
    kind: str
    chance: float
    spoken: tuple[tuple[str, Level], ...] | None
    chart: Chart


def note_of(chart: Chart, finding: Finding) -> int | None:
    """The row of song.notes that a finding on a bass note is about, None where it is about no note
    of the bass that could be moved."""
    if finding.part is None or finding.pitch is None:
        return None
    notes = chart.song.notes.take(chart.bass_rows)
    here = (notes.part == finding.part.number - 1) & (notes.start == finding.where.tick)
    rows = np.flatnonzero(here & (notes.pitch == finding.pitch))
    if len(rows) != 1:
        return None
    row = int(chart.bass_rows[rows[0]])
    return None if notes.off_row[rows[0]] == NEVER else row


def nudge_to(
    chart: Chart, note: int, semitones: int, sixteenths: int, rules: Sequence[Rule] | None
) -> Nudge | None:
    """One move of a note, a row of song.notes; None where it cannot be written: where the note
    would leave the song or run into another of its pitch. ``rules``: None where it is not asked
    which of them speak, which takes most of the time."""
    if not semitones and not sixteenths:
        return _nudge(chart, note, semitones, sixteenths, rules)
    song = bare_song(chart.song)
    moved = _moved(song, note, semitones, sixteenths * (song.division // 4))
    if moved is None:
        return None
    part = int(song.notes.part[note])
    after = _heard(moved, chart, part)
    there = moved.notes
    at = (there.part == part) & (there.pitch == song.notes.pitch[note] + semitones)
    at &= there.start == song.notes.start[note] + sixteenths * (song.division // 4)
    return _nudge(after, int(np.flatnonzero(at)[0]), semitones, sixteenths, rules)


def _nudge(
    after: Chart, note: int, semitones: int, sixteenths: int, rules: Sequence[Rule] | None
) -> Nudge:
    kind, chance = UNTOLD, float("nan")
    rows = np.flatnonzero(after.bass_rows == note)
    if len(rows):  # else it is heard as no bass any more
        row = int(rows[0])
        kind, chance = _kind(after, row), float(slip_chance(after)[row])
    return Nudge(
        semitones=semitones,
        sixteenths=sixteenths,
        kind=kind,
        chance=chance,
        spoken=None if rules is None else spoken_of(after, rules, note),
        chart=after,
    )


def _moved(song: Song, note: int, semitones: int, ticks: int) -> Song | None:
    notes = song.notes
    part = song.parts[int(notes.part[note])]
    start, end, pitch = int(notes.start[note]), int(notes.end[note]), int(notes.pitch[note])
    if not 0 <= pitch + semitones <= HIGHEST_KEY or not 0 <= start + ticks < int(
        song.grid.start[-1]
    ):
        return None
    place = {"track": part.track, "channel": part.channel, "tick": start, "end_tick": end}
    edits = [
        Edit(do="pitch", before=pitch, after=pitch + semitones, **place) if semitones else None,
        Edit(do="move", before=start, after=start + ticks, pitch=pitch, **place) if ticks else None,
    ]
    try:
        return meant_song(song, [e for e in edits if e is not None]) if any(edits) else song
    except MendError:
        return None


def _heard(song: Song, chart: Chart, part: int) -> Chart:
    """The chart of a song of which one note of a part has moved, with what was heard in ``chart``
    of all but the bass line. Roles and phrases are taken from there, too: they hang on whole lines
    and bars, which one note does not make."""
    after = Chart(song, chart.facts, chart.path, chart.loops).with_parts_of(chart)
    if _bars_alike(song, chart.song) and part in chart.parts.bass:  # which has no say in all this
        after.roots, after.heard_roots = chart.roots, chart.heard_roots
        after.outside_roots, after.witnesses = chart.outside_roots, chart.witnesses
        after.drums, after.others = chart.drums, chart.others
        after.phrases, after.four_bars = chart.phrases, chart.four_bars
        if chart.parts.harmony or chart.parts.melody:
            after.keys = chart.keys
    return after


def _bars_alike(one: Song, other: Song) -> bool:
    """Have two songs the same bars and parts, be it that one was written and read again?"""
    return one.grid is other.grid or (
        np.array_equal(one.grid.start, other.grid.start)
        and np.array_equal(one.grid.beats, other.grid.beats)
        and [(p.track, p.channel) for p in one.parts] == [(p.track, p.channel) for p in other.parts]
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
