"""Which bass notes are ornaments: passing, neighbour, approach and grace notes?

By Open Music Theory (Shaffer, Hughes and Moseley, CC BY-SA), chapter "Embellishing tones": a
passing note fills a third by steps in one direction, a neighbour steps away and back, an
incomplete neighbour leads by step into a stable tone. In a bass such an approach leads into a
root, into a longer note on a strong position, or, as the last of a walk in even beats, into the
note on the bar line (common practice). A step is one in whatever octave it lands.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import bar_of_onset
from basslint.hear.harmony.sources import Roots
from basslint.song.arrangement import Notes, Song
from basslint.util.columns import ends_of, last_row, rows_where, turns
from basslint.util.records import record

# Common practice, no source, for all of these:
SHORT = 1.0  # felt beats: what lasts longer is a note of the line, not an ornament
NEAR = 0.125  # quarters: what starts this close to a line stands on it
_GRACE_LENGTH = 0.25  # quarters: a sixteenth
_CONNECTED = 0.5  # quarters of rest over which a step is still heard as one
_BACK = 0.5  # quarters: what leads back into the root of its own chord is an eighth at most
_HAND = 0.125  # quarters by which a player's note is longer or shorter than it would be written
_STEP = 2  # semitones: a whole tone
_OCTAVE, _TRITONE = 12, 6  # semitones


@record(eq=False, kw_only=True)
class Runs:
    """Notes of one pitch class struck again and again as one, in whatever octaves; columns [r].

    ``of_note``: the run of each note.
    """

    of_note: NDArray[np.int64]  # [m]
    first: NDArray[np.int64]  # note rows
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int64]  # pitch class
    before: NDArray[np.int64]  # run before in the same part without a rest between, else −1
    after: NDArray[np.int64]  # the same behind; behind the last the first, where the song repeats


def repeated_notes(song: Song, bass: Notes) -> Runs:
    """Gather the runs of bass notes that repeat one pitch class without a rest between."""
    order = bass.part.argsort(kind="stable")
    part, pitch = bass.part[order], bass.pitch[order].astype(np.int64) % 12
    start, end = bass.start[order], bass.end[order]
    rest = np.concatenate(([0], start[1:] - end[:-1]))
    joined = rest <= _CONNECTED * song.division
    joined &= np.concatenate(([False], part[1:] == part[:-1]))
    new = ~joined | turns(pitch)
    first = rows_where(new)
    of_note = np.empty(len(bass), dtype=np.int64)
    of_note[order] = new.cumsum() - 1
    last = ends_of(first, len(bass)) - 1
    index = np.arange(len(first))
    linked = joined[first]
    before = np.where(linked, index - 1, -1)
    after = np.concatenate((np.where(linked[1:], index[1:], -1), [-1]))
    first_of_part = rows_where(turns(part[first]))
    last_of_part = ends_of(first_of_part, len(first)) - 1
    back = _leads_back(song, end[last[last_of_part]], start[first[first_of_part]])
    after[last_of_part[back]] = first_of_part[back]
    return Runs(
        of_note=of_note,
        first=order[first],
        start=start[first],
        end=end[last],
        pitch=pitch[first],
        before=before,
        after=after,
    )


def _leads_back(song: Song, end: NDArray[np.int64], start: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each part's ``end`` leads to its ``start`` when the song repeats as a loop does.

    The last bar of the song, whole, is followed by the bar in which the part begins.
    """
    grid = song.grid
    bar = grid.bar_of(end - 1)
    rest = grid.start[bar + 1] - end + start - grid.start[grid.bar_of(start)]
    in_last = bar == grid.bar_of(int(song.notes.end.max()) - 1)
    return np.asarray(in_last & (rest <= _CONNECTED * song.division))


def ornaments(
    song: Song, bass: Notes, roots: Roots, row: NDArray[np.intp], runs: Runs
) -> tuple[tuple[str, NDArray[np.bool_]], ...]:
    """Which bass notes are ornaments: function and mask [m], a later one wins over an earlier.

    Short notes on weak positions that lead from one note to the next. ``row`` [m]: the row of
    ``roots`` that each note belongs to.
    """
    division = song.division
    follows = runs.after > np.arange(len(runs.after))  # in the song, not when it repeats
    until = np.where(follows, np.minimum(runs.end, runs.start[runs.after]), runs.end)
    near = NEAR * division
    bar = bar_of_onset(runs.start, song.grid)
    short = until - runs.start <= SHORT * song.grid.felt_beat(bar)
    chord = row[runs.first]
    safe = np.maximum(chord, 0)
    weak = (runs.start - song.grid.start[bar] > near) & (
        np.abs(runs.start - roots.start[safe]) > near
    )
    # the shorter way, octaves taken off: an octave line steps as well as a close one
    into = (runs.pitch[runs.after] - runs.pitch + _TRITONE) % _OCTAVE - _TRITONE
    from_ = (runs.pitch - runs.pitch[runs.before] + _TRITONE) % _OCTAVE - _TRITONE
    steps_in = (runs.before >= 0) & (np.abs(from_) <= _STEP)
    steps_out = (runs.after >= 0) & (np.abs(into) <= _STEP)
    next_chord = chord[runs.after]
    next_root = roots.root[np.maximum(next_chord, 0)]
    lands = (next_chord >= 0) & (runs.pitch[runs.after] == next_root)

    ornament = short & weak
    slurred = follows & (runs.end > runs.start[runs.after])
    slurred |= (runs.before >= 0) & (runs.end[runs.before] > runs.start)
    grace = (until - runs.start <= _GRACE_LENGTH * division) & slurred
    length = until - runs.start
    brief = length <= (_BACK + _HAND) * division
    approach = ornament & steps_out & lands & ((next_chord != chord) | brief)
    # a chord without its root is heard on another one: an eighth that steps into a note that stands
    # on a bar line or a change leads there whatever the root
    stands = 2 * length <= length[runs.after] + _HAND * division
    approach |= ornament & brief & steps_out & stands & ~weak[runs.after]
    # so does the last of even steps from beat to beat, a walk, into the note on the bar line
    step = length / np.bincount(runs.of_note)
    even = np.abs(length - step[runs.before]) <= _HAND * division
    even &= (np.abs(length - step[runs.after]) <= _HAND * division) | stands
    on_line = np.abs(runs.start - song.grid.start[bar]) <= near
    beat = last_row(song.grid.beats, runs.start + near)
    even &= runs.start - song.grid.beats[beat] <= near
    approach |= ornament & (runs.before >= 0) & even & steps_out & on_line[runs.after]
    neighbour = ornament & steps_in & steps_out
    passing = neighbour & (np.sign(from_) == np.sign(into))
    of_note = runs.of_note
    return (
        ("grace", grace[of_note]),
        ("approach", approach[of_note]),
        ("neighbour", neighbour[of_note]),
        ("passing", passing[of_note]),
    )
