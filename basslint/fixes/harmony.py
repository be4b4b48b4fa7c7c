"""How is a note brought back into the harmony: to its root, into the scale, onto the change?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.base import HIGHEST, LOWEST_HZ, fixer, repitch, retime
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.fixes.loop import elsewhere
from basslint.fixes.tried import fits_in
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.readings.against_harmony import by_step, clashes, in_scale
from basslint.readings.against_parts import kick_at, other_bass_row, rub_row
from basslint.readings.base import once_per_chart
from basslint.readings.copies import copies
from basslint.readings.notes import before_in_part, length
from basslint.readings.recurrence import copies_alike
from basslint.readings.slip import slip_chance
from basslint.theory.chords import IS_TONE
from basslint.theory.names import pitch_name
from basslint.theory.tuning import frequency

_HEARD = 0.5  # share of a note for which a tone must sound to draw the note to it
_HELD = 0.5  # beats: what is mended unasked is held, an eighth at least
_PASSES = 1.0  # beats: what is no longer, and a step from its neighbour, may be an escape note
_ONE_STROKE_S = 0.04  # a kick no further from a change than this is its downbeat, as played
_REST = 2.0  # quarters: across a longer rest a line begins anew
_CLOSELY = 0.8  # share of the notes around that come back in a loop
_STEP = 2  # semitones: a whole tone
_TURN = 3  # semitones that keeping the line's direction is worth
_OUTSIDE = 5  # semitones that staying inside the part's own register is worth
_USED = 9  # semitones that a root the part already plays is worth: the loop shows what was meant


def nearest(chart: Chart, row: int, tone: int, lowest_hz: float = LOWEST_HZ) -> int:
    """The sounding pitch of class ``tone`` to put in place of bass note ``row``.

    The nearest one, but rather one that the part already uses, that stays in its register, and that
    leaves the direction of the line as it is; none under ``lowest_hz``. All
    weights are musical judgement, no source.
    """
    now = int(chart.bass.pitch[row])
    line = _lines(chart)[int(chart.bass.part[row])]
    place = int(np.searchsorted(line.rows, row))
    around = [int(line.pitch[i]) for i in (place - 1, place + 1) if 0 <= i < len(line.rows)]
    used = [p for p, count in line.used if count - (p == now) > 0]
    low, high = (used[0], used[-1]) if used else (now, now)

    def cost(pitch: int) -> tuple[int, int]:
        turned = sum((now - a) * (pitch - a) < 0 for a in around)
        outside = not low <= pitch <= high
        way = abs(pitch - now) + _TURN * turned + _OUTSIDE * outside - _USED * (pitch in used)
        return way, pitch

    up = now + (tone - now) % 12
    near = [p for p in (up - 12, up, up + 12) if 0 <= p <= 127]
    carried = [p for p in near if frequency(p) >= lowest_hz]
    return min(carried or near, key=cost)


def _to_tone(chart: Chart, row: int, tone: int, kind: FixKind) -> Fix | None:
    """Move a bass note to a pitch class, unless it would meet another part worse there.

    A note that clashes with its chord is brought home all the same, but not unasked.
    """
    told = _root(chart, row)
    if not fits_in(chart, row, tone, told is not None and told[0] == tone):
        if not clashes(chart)[row]:
            return None
        kind = "by-ear"
    sounds, now = nearest(chart, row, tone), int(chart.sounding.written[row])
    pitch = sounds - int(chart.sounding.shift[row])  # the key at which that sounds there
    apart = _apart(chart, row, pitch)
    if pitch == now or apart is None or not 0 <= pitch <= HIGHEST:
        return None
    if chart.sounding.assumed[row]:
        kind = "by-ear"  # where the note goes hangs on a bend range that nobody states
    spelled = chart.spelling_at(int(chart.bass.start[row]))
    title = f"Move {pitch_name(now, spelled)} to {pitch_name(pitch, spelled)}"
    if pitch != sounds:
        title += f", which sounds {pitch_name(sounds, spelled)}"
    return Fix(title, kind, (repitch(chart, int(chart.bass_rows[row]), pitch), *apart))


def _apart(chart: Chart, row: int, pitch: int) -> list[Edit] | None:
    """Edits that keep the note from doubling its neighbours once it has their key ``pitch``.

    Notes that overlap, to slide, would otherwise sound one pitch twice. None where one of that
    pitch starts at the same moment: then nothing but taking one out would do.
    """
    bass, rows = chart.bass, chart.bass_rows
    line = _lines(chart)[int(bass.part[row])]
    start, end = int(bass.start[row]), int(bass.end[row])
    first = min(
        np.searchsorted(line.reach, start, side="right"), np.searchsorted(line.start, start)
    )
    near = slice(int(first), int(np.searchsorted(line.start, max(end, start + 1))))
    same, begin, until = line.written[near] == pitch, line.start[near], line.end[near]
    if (same & (begin == start)).any():
        return None
    under = line.rows[near][same & (begin < start) & (until > start)]
    edits = [retime(chart, int(rows[n]), "end", start) for n in under.tolist()]
    over = begin[same & (begin > start) & (begin < end)]
    if len(over):
        edits.append(retime(chart, int(rows[row]), "end", int(over[0])))
    return edits


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Line:
    """One bass part by itself, columns [n] in order of time.

    ``rows``: its rows in `Chart.bass`; ``pitch`` is what sounds, ``written`` the key; ``reach``:
    the latest end so far, so that what still sounds at a moment is found without looking at all
    notes; ``used``: its pitches, rising, with counts.
    """

    rows: NDArray[np.intp]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    written: NDArray[np.int16]
    reach: NDArray[np.int64]
    used: tuple[tuple[int, int], ...]


@once_per_chart
def _lines(chart: Chart) -> dict[int, _Line]:
    """Every bass part by its index."""
    lines: dict[int, _Line] = {}
    for part in np.unique(chart.bass.part).tolist():
        rows = np.flatnonzero(chart.bass.part == part)
        notes = chart.bass.take(rows)
        pitches, counts = np.unique(notes.pitch, return_counts=True)
        used = tuple(zip(pitches.tolist(), counts.tolist(), strict=True))
        reach = np.maximum.accumulate(notes.end)
        written = chart.sounding.written[rows]
        lines[part] = _Line(
            rows=rows,
            start=notes.start,
            end=notes.end,
            pitch=notes.pitch,
            written=written,
            reach=reach,
            used=used,
        )
    return lines


def _root(chart: Chart, row: int) -> tuple[int, float] | None:
    """Root and its certainty under bass note ``row``."""
    stretch = int(chart.bass_chords[row])
    if stretch < 0 or chart.roots.root[stretch] < 0:
        return None
    return int(chart.roots.root[stretch]), float(chart.roots.certainty[stretch])


@fixer(
    "note-to-root",
    of="bass-note",
    does="moves the note to the root of its chord, or to what its loop plays there under it",
)
def note_to_root(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Safe for a lone held note that clashes under a sure root, if no other part sounds it.

    The nearest root, register and direction kept. Where a part doubles the line, the note goes
    where its double is, and where both are off, by step to a tone of the chord. Where the loop
    comes round to the same root and plays a note of another pitch class there, in place of the
    root, that one is meant: keys that leave the root to the bass are heard on another one. What
    returns in other bars or sounds in two parts, and a note of a scale that the user stated, may be
    meant so. None for what returns in more bars than the page's ``returns``, save a clash of
    ``long_beats``.
    """
    root = _root(chart, row)
    if root is None:
        return None
    held, clash = float(length(chart)[row]), bool(clashes(chart)[row])
    if copies(chart)[row] > parameters.get("returns", np.inf) and not (
        clash and held > parameters.get("long_beats", 0.0)
    ):
        return None
    bass, tone = chart.bass, chart.bass.pitch[row] % 12
    layers = int(((bass.start == bass.start[row]) & (bass.pitch % 12 == tone)).sum())
    slip = layers == 1 and copies(chart)[row] < 2 and held >= _HELD
    slip &= held > _PASSES or not by_step(chart)[row]
    slip &= not (chart.keys.stated and in_scale(chart)[row])
    sure = root[1] >= CERTAIN and clash and bool(slip) and not chart.doubling.sounded[row]
    return _to_tone(chart, row, _meant(chart, row, root[0]), "safe" if sure else "by-ear")


def _as_doubled(chart: Chart, row: int) -> int | None:
    """The pitch class that the part which doubles the line plays in place of a bass note."""
    tone = int(chart.doubling.tone[row])
    sounded = chart.doubling.part[row] >= 0 and tone >= 0
    return tone if sounded and tone != int(chart.bass.pitch[row]) % 12 else None


def _by_step(chart: Chart, row: int, root: int) -> int:
    """The tone of the chord a step away from a bass note, the nearest first; else its root."""
    now, quality = int(chart.bass.pitch[row]), int(chart.roots.quality[chart.bass_chords[row]])
    for way in (-1, 1, -_STEP, _STEP):
        if IS_TONE[quality, (now + way - root) % 12]:
            return (now + way) % 12
    return root


def _meant(chart: Chart, row: int, root: int) -> int:
    """The pitch class that belongs in place of a bass note under a chord on ``root``."""
    doubled = _as_doubled(chart, row)
    if doubled is not None:
        return doubled
    if chart.doubling.part[row] >= 0:
        return _by_step(chart, row, root)
    again = elsewhere(chart, row)
    there = _root(chart, again) if again is not None else None
    if again is None or there is None or there[0] != root or clashes(chart)[again]:
        return root
    return int(chart.bass.pitch[again]) % 12


@fixer(
    "note-to-harmony",
    of="bass-note",
    does="moves the note to what its loop plays there, to the tone beside it that others play, or "
    "to the root of its chord",
)
def note_to_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Safe for a lone held note, surely a slip, that the loop or a sounding tone beside it mends.

    By ear where a figure returns, where any other part plays the pitch class or another bass layer
    has it, for a short note that steps on, and where the user's stated scale has the note.
    """
    tone = _in_harmony(chart, row)
    if tone is None:
        return None
    bass = chart.bass
    own = int(bass.pitch[row]) % 12
    layers = int(((bass.start == bass.start[row]) & (bass.pitch % 12 == own)).sum())
    held = float(length(chart)[row])
    slip = layers == 1 and held >= _HELD and copies_alike(chart)[row] < 1
    slip &= bool(chart.accompaniment.share[row, own] <= 0)
    slip &= held > _PASSES or not by_step(chart)[row]
    slip &= not (chart.keys.stated and in_scale(chart)[row])
    slip &= slip_chance(chart)[row] >= parameters.get("sure", 1.0)
    slip &= (tone - own) % 12 in (1, 11)
    return _to_tone(chart, row, tone, "safe" if slip else "by-ear")


def _in_harmony(chart: Chart, row: int) -> int | None:
    """The pitch class that belongs in place of a bass note; None where nothing tells it."""
    own, share = int(chart.bass.pitch[row]) % 12, chart.accompaniment.share[row]
    told = _root(chart, row)
    again = elsewhere(chart, row)
    if again is not None:
        tone = int(chart.bass.pitch[again]) % 12
        there = _root(chart, again)
        alike = told is None or (there is not None and there[0] == told[0])
        if alike and not clashes(chart)[again] and (share[tone] > 0 or told is not None):
            return tone
    beside = [t for t in ((own - 1) % 12, (own + 1) % 12) if share[t] >= _HEARD]
    if told is not None and told[0] in beside:
        return told[0]
    if beside:
        return max(beside, key=lambda t: (share[t], t != (own + 1) % 12))
    return told[0] if told is not None else None


@fixer(
    "note-to-scale",
    of="bass-note",
    does="moves the note to what its loop or line plays there, else to the nearest of the scale",
)
def note_to_scale(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear. A loop that comes round closely shows what was meant; else the tone that the line
    stands on around the note; else a loop that comes round loosely. Of two notes of the scale that
    are equally near, the lower one.
    """
    key = int(chart.key_at(chart.bass.start[row : row + 1])[0])
    if key < 0:
        return None
    now, pitch = int(chart.bass.pitch[row]), chart.bass.pitch
    scale = np.flatnonzero(chart.keys.scale[key]).tolist()
    doubled = _as_doubled(chart, row)
    if doubled in scale:
        return _to_tone(chart, row, doubled, "by-ear")
    shown = (elsewhere(chart, row, _CLOSELY), _stood_on(chart, row), elsewhere(chart, row))
    for again in shown:
        if again is not None and int(pitch[again]) % 12 in scale:
            return _to_tone(chart, row, int(pitch[again]) % 12, "by-ear")
    away = {tone: min((tone - now) % 12, (now - tone) % 12) for tone in scale}
    tone = min(scale, key=lambda t: (away[t], (t - now) % 12 <= 6))
    return _to_tone(chart, row, tone, "by-ear")


def _stood_on(chart: Chart, row: int) -> int | None:
    """The bass note before ``row``, if the one after has its tone and no long rest is between."""
    bass, line = chart.bass, _lines(chart)[int(chart.bass.part[row])].rows
    place = int(np.searchsorted(line, row))
    if not 0 < place < len(line) - 1:
        return None
    before, after = int(line[place - 1]), int(line[place + 1])
    rest = max(bass.start[row] - bass.end[before], bass.start[after] - bass.end[row])
    if rest > _REST * chart.song.division:
        return None
    return before if (bass.pitch[before] - bass.pitch[after]) % 12 == 0 else None


@fixer(
    "root-without-rub",
    of="bass-note",
    does="moves the note to the root of its chord, where that does not rub with the held note",
)
def root_without_rub(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear; none where the root itself rubs: then the held note may be the wrong one."""
    root, other = _root(chart, row), int(rub_row(chart)[row])
    if root is None or other < 0:
        return None
    if (int(chart.notes.pitch[other]) - root[0]) % 12 in (1, 11):
        return None
    return _to_tone(chart, row, root[0], "by-ear")


@fixer(
    "with-leading-bass",
    of="bass-note",
    does="moves the note to the one that the leading bass part sounds at that time, any octave",
)
def with_leading_bass(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: either part may be the one that is right."""
    other = int(other_bass_row(chart)[row])
    if other < 0:
        return None
    return _to_tone(chart, row, int(chart.notes.pitch[other]) % 12, "by-ear")


def _on_stroke(chart: Chart, tick: int) -> int:
    """The kick that sounds as one with a change of chord, or the change itself where none does."""
    kick = kick_at(chart, tick)
    if kick is None:
        return tick
    apart = chart.song.tempo.seconds(kick) - chart.song.tempo.seconds(tick)
    return kick if abs(apart) <= _ONE_STROKE_S else tick


@fixer(
    "change-with-harmony",
    of="bass-note",
    does="moves the point where the bass changes its root onto the harmony's change, or its kick",
)
def change_with_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: the time of a note is the player's. Early: starts later; late: ends earlier, and the
    next note starts where it ends. Where a kick plays the change, it is the kick's moment.
    """
    bass, roots, rows = chart.bass, chart.roots, chart.bass_rows
    start, end, tone = int(bass.start[row]), int(bass.end[row]), int(bass.pitch[row]) % 12
    near = chart.song.division // 8  # a hair before its own chord it has started with it
    change = int(np.searchsorted(roots.start, start + near, side="right"))
    if change >= len(roots) or int(roots.start[change]) >= end:
        return None
    at = int(roots.since[change])
    at = at if start < at < end else int(roots.start[change])
    kick = _on_stroke(chart, at)
    at = kick if start < kick < end else at
    if tone == int(roots.root[change]):  # early: the new root waits for the change
        edits = [retime(chart, int(rows[row]), "start", at)]
        last = int(before_in_part(bass)[row])
        if last >= 0 and int(bass.end[last]) == start:
            edits.append(retime(chart, int(rows[last]), "end", at))
        return Fix("Start the new root with the chord", "by-ear", tuple(edits))
    later = np.flatnonzero((bass.part == bass.part[row]) & (bass.start > start))
    if not len(later):
        return None
    after = int(later[0])
    edits = [
        retime(chart, int(rows[row]), "end", at),
        retime(chart, int(rows[after]), "start", at),
    ]
    return Fix("Change the bass with the chord", "by-ear", tuple(edits))
