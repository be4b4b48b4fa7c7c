"""Where, and by which sounds, does a song differ once it is mended?

What a finding sounds like as written and as mended is the song itself, less the sounds that its fix
takes away and with those that it brings. Fixes that lie far enough apart are written into one copy,
so that a song with many findings is patched and heard a few times and not once for each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.audition.tones import sound_in, strokes_within, tones_within
from basslint.audition.voices import Stroke, Tone
from basslint.errors import BasslintError
from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.mending.bare import bare_song
from basslint.mending.meant import meant_song
from basslint.song.arrangement import Song
from basslint.util.columns import unpaired
from basslint.util.records import record

MOST_BARS = 16  # of one finding: more would have to be waited for
_NEAR_BARS = 2  # so far from its edits a fix may change how a chain of notes sounds

Struck = tuple[int, int, int, int, int]  # start tick, end tick, pitch, velocity, part


@record(eq=False)
class Difference:
    """What a fix takes away and brings: ``lost`` and ``gained`` tones of the bass; ``silent``: rows
    of song.notes (no bass) that fall silent; ``struck``: notes that come in their place."""

    lost: tuple[Tone, ...]
    gained: tuple[Tone, ...]
    silent: tuple[int, ...]
    struck: tuple[Struck, ...]

    def __bool__(self) -> bool:
        return bool(self.lost or self.gained or self.silent or self.struck)


@record
class Stretch:
    """Ticks to listen to, whole bars, ``first`` to ``last`` counted from 1."""

    start: int
    end: int
    first: int
    last: int


def stretch_of(chart: Chart, finding: Finding) -> Stretch:
    """The bars of a finding and of where its fix lands, with one bar before and one after; of one
    in several places those of the first."""
    grid = chart.song.grid
    start, end = _hull(finding)
    first = max(int(grid.bar_of(start)) - 1, 0)
    last = min(int(grid.bar_of(max(end - 1, start))) + 1, grid.bars - 1, first + MOST_BARS - 1)
    return Stretch(int(grid.start[first]), int(grid.start[last + 1]), first + 1, last + 1)


def differences(
    chart: Chart, tones: Sequence[Tone], findings: Sequence[Finding]
) -> list[Difference | None]:
    """What each finding's own fix changes, None where it has none that can be written.

    ``tones``: all tones of the bass as written.
    """
    result: list[Difference | None] = [None] * len(findings)
    fixed = [i for i, f in enumerate(findings) if f.fix is not None and f.fix.edits]
    near = {i: _nearby(chart, findings[i]) for i in fixed}
    batches = _apart(fixed, near)
    while batches:
        batch = batches.pop()
        after = _written(chart, [findings[i] for i in batch])
        if after is not None:
            others = any(_beside_the_bass(chart, findings[i]) for i in batch)
            whole = difference(chart, tones, after, [near[i] for i in batch], others)
            for i in batch:
                result[i] = _within(chart, whole, near[i])
        elif len(batch) > 1:  # one of them cannot be written: each for itself
            batches += [[i] for i in batch]
    return result


def _beside_the_bass(chart: Chart, finding: Finding) -> bool:
    """Does a fix touch a part that is no bass?"""
    parts = chart.song.parts
    basses = {(parts[i].track, parts[i].channel) for i in chart.parts.bass}
    edits = finding.fix.edits if finding.fix is not None else ()
    return any((edit.track, edit.channel) not in basses for edit in edits)


def difference(
    chart: Chart,
    tones: Sequence[Tone],
    after: Chart,
    within: Sequence[tuple[int, int]] = (),
    others: bool = True,
) -> Difference:
    """What differs in ``after``, a mended copy. ``tones``: all tones of the bass as written;
    ``within``: stretches of ticks outside of which what differs is not asked for, none: all of it;
    ``others``: may parts that are no bass differ?"""
    whole = (0, max(chart.song.end_tick, after.song.end_tick) + 1)
    stretches = _joined(within or (whole,))
    seconds = chart.song.tempo.seconds(np.array(stretches, dtype=np.int64))
    begins, ends = (np.array([getattr(t, x) for t in tones]) for x in ("start", "end"))
    mine = [tones[i] for i in np.flatnonzero(sound_in(begins, ends, seconds)).tolist()]
    now, before = Counter(strokes_within(after, stretches)), Counter(t.stroke for t in mine)
    kept = now & before
    lost = _beyond(mine, kept)
    but = frozenset(s for s in kept if now[s] == kept[s])
    gained = _beyond(tones_within(after, stretches, but), kept) if len(but) < len(now) else ()
    asked = stretches if within else ()
    silent, struck = _other_notes(chart, after, asked) if others else ((), ())
    return Difference(lost, gained, silent, struck)


def _joined(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches in order; neighbours that meet are joined into one."""
    joined: list[tuple[int, int]] = []
    for start, end in sorted(stretches):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def _beyond(tones: Iterable[Tone], kept: Counter[Stroke]) -> tuple[Tone, ...]:
    """The tones that are left once as many of each stroke are taken out as are ``kept``."""
    left, rest = Counter(kept), []
    for tone in tones:
        if left[tone.stroke] > 0:
            left[tone.stroke] -= 1
        else:
            rest.append(tone)
    return tuple(rest)


def _within(chart: Chart, whole: Difference, ticks: tuple[int, int]) -> Difference:
    """What of a difference sounds between two ticks."""
    start, end = ticks
    begin_s, end_s = chart.song.tempo.seconds(start), chart.song.tempo.seconds(end)
    notes = chart.song.notes
    return Difference(
        tuple(t for t in whole.lost if t.start < end_s and t.end > begin_s),
        tuple(t for t in whole.gained if t.start < end_s and t.end > begin_s),
        tuple(i for i in whole.silent if notes.start[i] < end and notes.end[i] > start),
        tuple(n for n in whole.struck if n[0] < end and n[1] > start),
    )


def _hull(finding: Finding) -> tuple[int, int]:
    """From the first to the last tick that a finding and its fix touch at the first place."""
    ticks = [tick for edit in finding.first_edits for tick in _ticks(edit)]
    if finding.part is not None or not ticks:
        ticks += [finding.where.tick, finding.where.end_tick]
    return min(ticks), max(ticks)


def _ticks(edit: Edit) -> list[int]:
    ticks = [edit.tick, edit.end_tick]
    if edit.do in ("start", "end", "move") and edit.after is not None:
        ticks.append(edit.after)
        if edit.do == "move":
            ticks.append(edit.after + edit.end_tick - edit.tick)
    return ticks


def _nearby(chart: Chart, finding: Finding) -> tuple[int, int]:
    assert finding.fix is not None  # only those with a fix are asked
    ticks = [tick for edit in finding.fix.edits for tick in _ticks(edit)]
    return around(chart, min(ticks), max(ticks))


def around(chart: Chart, start: int, end: int) -> tuple[int, int]:
    """Ticks in which edits from one tick to another may change what is heard."""
    grid = chart.song.grid
    first = max(int(grid.bar_of(start)) - _NEAR_BARS, 0)
    last = min(int(grid.bar_of(end)) + _NEAR_BARS, grid.bars - 1)
    return int(grid.start[first]), int(grid.start[last + 1])


def _apart(fixed: Sequence[int], near: dict[int, tuple[int, int]]) -> list[list[int]]:
    """Batches of fixes whose surroundings do not meet."""
    batches: list[list[int]] = []
    ends: list[int] = []
    for i in sorted(fixed, key=lambda i: near[i]):
        start, end = near[i]
        free = next((b for b, until in enumerate(ends) if until <= start), None)
        if free is None:
            batches.append([i])
            ends.append(end)
        else:
            batches[free].append(i)
            ends[free] = end
    return batches


def _written(chart: Chart, findings: Sequence[Finding]) -> Chart | None:
    """The chart of a copy with some fixes done, None where they cannot be written."""
    edits = [edit for f in findings if f.fix is not None for edit in f.fix.edits]
    song = bare_song(chart.song)
    try:
        after = meant_song(song, edits)
    except BasslintError:
        return None
    return chart_of(after, chart)


def chart_of(song: Song, like: Chart) -> Chart:
    """The chart of a mended song, with roles and facts as in the file as written."""
    return Chart(song, like.facts, like.path, like.loops).with_parts_of(like)


def _other_notes(
    chart: Chart, after: Chart, within: Sequence[tuple[int, int]]
) -> tuple[tuple[int, ...], tuple[Struck, ...]]:
    """Rows of notes of other parts than the bass that are gone, and the notes that are new, of
    those that sound in some stretches of ticks, none: of all."""
    place = {(p.track, p.channel): i for i, p in enumerate(chart.song.parts)}
    mine, rows = _columns(chart, place, within)
    theirs, _ = _columns(after, place, within)
    if np.array_equal(mine, theirs):  # most fixes leave them alone
        return (), ()
    one, other = _unlike(mine, theirs)
    gone, new = unpaired(mine[one], theirs[other])
    struck: tuple[Struck, ...] = tuple(map(tuple, theirs[other][new].tolist()))
    return tuple(rows[one[gone]].tolist()), struck


def _unlike(
    one: NDArray[np.int64], other: NDArray[np.int64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of either table that may be missing in the other: cheap to find, and hardly too many."""
    if len(one) == len(other):
        differ = np.flatnonzero((one != other).any(axis=1))
        return differ, differ
    count = min(len(one), len(other))
    same = (one[:count] == other[:count]).all(axis=1)
    first = int(same.argmin()) if not same.all() else count
    return np.arange(first, len(one)), np.arange(first, len(other))


def _columns(
    chart: Chart, place: dict[tuple[int, int], int], within: Sequence[tuple[int, int]]
) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Start, end, pitch, velocity and part of the notes that are no bass and sound ``within`` some
    stretches of ticks (none: of all), [n, 5], and their rows; parts are numbered as ``place`` has
    them."""
    notes = chart.song.notes
    part = np.array([place.get((p.track, p.channel), -1) for p in chart.song.parts], dtype=np.int64)
    other = np.array([i not in chart.parts.bass for i in range(len(part))], dtype=bool)
    rows = np.flatnonzero(other[notes.part]) if len(part) else np.zeros(0, dtype=np.intp)
    if within:
        rows = rows[sound_in(notes.start[rows], notes.end[rows], np.array(within, dtype=np.int64))]
    columns = (notes.start, notes.end, notes.pitch, notes.velocity)
    taken = [*(c[rows].astype(np.int64) for c in columns), part[notes.part[rows]]]
    return np.stack(taken, axis=1), rows
