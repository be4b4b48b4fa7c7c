"""Which notes is a finding about, and how would they stand once mended?

Nothing is judged here: the finding and its edits are laid over the notes they name.
"""

from __future__ import annotations

import numpy as np

from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.theory.general_midi import KEYS
from basslint.util.columns import found_in
from basslint.util.records import record, replace


@record
class Bar:
    """A drawn note: ticks and MIDI pitch."""

    start: int
    end: int
    pitch: int


@record(kw_only=True)
class Focus:
    """What a strip is about. ``part`` indexes song.parts; ``start`` to ``end`` is the stretch to
    show, ``finest`` the smallest shift in time (ticks) that must be seen, where there is one;
    ``written`` rows of song.notes are at fault; ``mended`` is how they would stand.

    ``loudness``: (tick, velocity as written, as mended). ``curve``: (tick, fractional pitch) along
    a mended bend. ``slide``: row of chart.slides, or None.
    """

    part: int
    start: int
    end: int
    finest: int | None
    written: frozenset[int] = frozenset()
    mended: tuple[Bar, ...] = ()
    loudness: tuple[tuple[int, int, int], ...] = ()
    curve: tuple[tuple[int, float], ...] = ()
    slide: int | None = None
    kicks: tuple[int, ...] = ()


def focus_on(chart: Chart, finding: Finding) -> Focus | None:
    """The focus of a finding, None where it names no part or no note."""
    if finding.part is None or finding.pitch is None:
        return None
    part = finding.part.number - 1
    where, mine = finding.where, chart.song.rows_of([part])
    notes = chart.song.notes.take(mine)
    edits = _of_its_part(finding, finding.fix.edits if finding.fix is not None else ())
    slide = _slide(chart, finding, part)
    touched = notes.pitch == finding.pitch
    touched &= (notes.start < max(where.end_tick, where.tick + 1)) & (notes.end > where.tick)
    if finding.family == "fills":  # a fill is all of its hits, whatever their pitch
        touched |= (notes.start >= where.tick) & (notes.start < where.end_tick)
    changed, mended = _changed(edits)
    keys = np.array([bar.start * KEYS + bar.pitch for bar in changed], dtype=np.int64)
    touched |= found_in(notes.start * KEYS + notes.pitch, keys)
    written = mine[touched].tolist()
    # a strip of all places would be drawn from too far to show any
    first = _of_its_part(finding, finding.first_edits)
    shown = _changed(first)[1] if finding.also else mended
    start = min([where.tick, *(b.start for b in shown)])
    end = max([where.end_tick, *(b.end for b in shown)])
    kicks = _kicks(chart, finding)
    apart = _from_kick(kicks, where.tick)
    shifts = _shifts(first) + apart
    finest = min((b - a for a, b in shifts), default=None)
    if finest is not None and finest < chart.song.division // 4:  # too small to see from afar
        start, end = min(a for a, _ in shifts), max(b for _, b in shifts)
    end = max([end, *(b + 1 for _, b in apart)])  # a kick after the note begins in view, too
    return Focus(
        part=part,
        start=start,
        end=end,
        finest=finest,
        written=frozenset(written),
        mended=mended,
        loudness=_loudness(chart, edits, written),
        curve=_curve(chart, edits, slide),
        slide=slide,
        kicks=kicks,
    )


def of_kick(finding: Finding) -> bool:
    """Did the rule go by the distance to the kick?"""
    return any(name.startswith("kick_") for name, _ in finding.readings)


def _kicks(chart: Chart, finding: Finding) -> tuple[int, ...]:
    """The ticks of the kicks, where the rule went by how far the nearest is."""
    if not of_kick(finding):
        return ()
    from basslint.readings.kicks import kick_ticks  # few findings need it

    return tuple(kick_ticks(chart).tolist())


def _from_kick(kicks: tuple[int, ...], tick: int) -> list[tuple[int, int]]:
    """The stretch of time between a note and the kick nearest to it."""
    nearest = min(kicks, key=lambda kick: abs(kick - tick), default=tick)
    return [] if nearest == tick else [(min(nearest, tick), max(nearest, tick))]


def _of_its_part(finding: Finding, edits: tuple[Edit, ...]) -> tuple[Edit, ...]:
    """The edits of the finding's own part; others cannot be drawn in its strip."""
    part = finding.part
    if part is None:
        return ()
    return tuple(e for e in edits if e.track == part.track and e.channel == part.channel)


def _changed(edits: tuple[Edit, ...]) -> tuple[list[Bar], tuple[Bar, ...]]:
    """Notes that edits touch, as written, and where notes stand once all edits are done.

    Several edits of one note are one change; a note that ends up where it was is in neither.
    """
    of_note: dict[tuple[Bar, int], list[Edit]] = {}
    mended: list[Bar] = []
    for edit in edits:
        if edit.do == "insert" and edit.after is not None:
            mended.append(Bar(edit.tick, edit.end_tick, edit.after))
            continue
        pitch = edit.before if edit.do in ("pitch", "remove") else edit.pitch
        if edit.do not in ("bend", "insert") and pitch is not None:
            note = Bar(edit.tick, edit.end_tick, pitch)
            of_note.setdefault((note, edit.nth), []).append(edit)
    changed: list[Bar] = []
    for (note, _), those in of_note.items():
        kinds = {e.do for e in those}
        stands = note
        for edit in those:
            stands = _with(stands, edit)
        if "remove" in kinds:
            changed.append(note)
        elif stands != note:
            changed.append(note)
            mended.append(stands)
        elif "velocity" in kinds:
            changed.append(note)
    return changed, tuple(mended)


def _with(bar: Bar, edit: Edit) -> Bar:
    """A note after one more edit."""
    after = edit.after
    if after is None:
        return bar
    if edit.do == "pitch":
        return replace(bar, pitch=after)
    if edit.do == "start":
        return replace(bar, start=after)
    if edit.do == "end":
        return replace(bar, end=after)
    if edit.do == "move" and edit.before is not None:
        by = after - edit.before
        return replace(bar, start=bar.start + by, end=bar.end + by)
    return bar


def _loudness(
    chart: Chart, edits: tuple[Edit, ...], written: list[int]
) -> tuple[tuple[int, int, int], ...]:
    """Velocities before and after of every note at fault, rows of song.notes, where a fix changes
    any."""
    notes = chart.song.notes
    louder = {(e.tick, e.pitch): e.after for e in edits if e.do == "velocity"}
    if not louder:
        return ()
    loudness = []
    for row in written:
        tick, before = int(notes.start[row]), int(notes.velocity[row])
        after = louder.get((tick, int(notes.pitch[row])))
        loudness.append((tick, before, before if after is None else after))
    return tuple(loudness)


def _shifts(edits: tuple[Edit, ...]) -> list[tuple[int, int]]:
    """The stretches of time by which edits move an end of a note."""
    return [
        (min(e.before, e.after), max(e.before, e.after))
        for e in edits
        if e.do in ("start", "end", "move")
        and e.before is not None
        and e.after is not None
        and e.before != e.after
    ]


def _slide(chart: Chart, finding: Finding, part: int) -> int | None:
    """Row of the slide that a finding stands on."""
    if finding.family != "slides":
        return None
    slides = chart.slides
    same = (slides.part == part) & (slides.start == finding.where.tick)
    rows = np.flatnonzero(same & (slides.land == finding.where.end_tick))
    return int(rows[0]) if len(rows) else None


def _curve(
    chart: Chart, edits: tuple[Edit, ...], slide: int | None
) -> tuple[tuple[int, float], ...]:
    """The mended pitch bend as pitches over time.

    The semitones that one step of the wheel is worth follow from the slide as it was heard: its
    height over the wheel's travel.
    """
    bends = sorted((e.tick, e.after) for e in edits if e.do == "bend" and e.after is not None)
    if not bends or slide is None:
        return ()
    slides = chart.slides
    last = int(slides.last_change[slide])
    pitch = int(chart.song.notes.pitch[int(slides.note[slide])])
    value = int(chart.song.changes.value[last]) if last >= 0 else 0
    if not value:
        return ()
    step = (float(slides.target[slide]) - pitch) / value
    return tuple((tick, pitch + step * after) for tick, after in bends)
