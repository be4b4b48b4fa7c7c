"""What does each bass note do in its harmony and its line?

A note off the root is not wrong for that: it may be a tone of the chord, a pedal, the second note
of a two-note line, or lead from one note to the next. Non-chord tones by the handbook of
counterpoint: a passing note fills a third by steps in one direction, a neighbour steps away and
back, an approach note leads by step into a root, into a longer note on a strong place, or, as the
last of a walk in even beats, into the note on the bar line. A step is one in whatever octave it
lands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.two_notes import of_two
from basslint.hear.form.bars import bar_of_onset
from basslint.hear.harmony.roots import Roots
from basslint.hear.key.keys import Keys
from basslint.song.arrangement import Notes, Song
from basslint.theory.chords import IS_TONE
from basslint.util.columns import last_row

if TYPE_CHECKING:
    from basslint.hear.bassline.pattern import Pattern

FUNCTIONS = (
    "other",  # nothing explains it, or no root is told
    "root",
    "octave",  # the root in a higher register than the line's lowest root under this chord
    "chord-tone",
    "pedal",
    "second-note",  # of a two-note line
    "passing",
    "approach",
    "neighbour",
    "stepwise-line",
    "grace",  # a short note slurred to one beside it: where a slide sets out or what it touches
)
(
    _OTHER,
    _ROOT,
    _OCTAVE,
    _CHORD_TONE,
    _PEDAL,
    _SECOND,
    _PASSING,
    _APPROACH,
    _NEIGHBOUR,
    _STEPWISE,
    _GRACE,
) = range(len(FUNCTIONS))

_SHORT = 1.0  # quarters: what lasts longer is a note of the line, not an ornament
_GRACE_LENGTH = 0.25  # quarters: a sixteenth
_NEAR = 0.125  # quarters: what starts this close to a line stands on it
_CONNECTED = 0.5  # quarters of rest over which a step is still heard as one
_BACK = 0.5  # quarters: what leads back into the root of its own chord is an eighth at most
_HAND = 0.125  # quarters by which a player's note is longer or shorter than it would be written
_PEDAL_ROOTS = 3  # under two chords a common floor may be chance, a slip that stays too long
_IN_SIGHT = 0.4  # certainty of a root: below it the chords may be one that nobody can name
_PEDAL_SHARE = 0.75  # of a song's bass on one tone: a pedal for four bars is one throughout
_PEDAL_REST = 4.0  # quarters: a pedal is struck at least once a bar
_MOST_CHORDS = 64  # of one note: bounds time; more of them make a drone all the same


def note_functions(
    song: Song, bass: Notes, roots: Roots, row: NDArray[np.intp], keys: Keys, pattern: Pattern
) -> NDArray[np.int8]:
    """Name the function of each bass note: int8 [m], indexes into `FUNCTIONS`.

    ``bass`` holds the notes of the bass parts in order of time; ``row`` [m]: the row of ``roots``
    that each belongs to, as from `hear.cover.chord_rows`. Notes under no told root are "other". The
    simplest reading wins: root and octave, chord tone, pedal, stepwise line, second note, passing,
    neighbour, approach, grace. A foreign note that rubs a semitone against the root for longer than
    a beat is explained by nothing but a pedal: on the tonic, or under three chords. Linear in
    notes.
    """
    result = np.zeros(len(bass), dtype=np.int8)
    if not len(bass) or not len(roots):
        return result
    safe = np.maximum(row, 0)
    known = (row >= 0) & (roots.root[safe] >= 0)
    pitch = bass.pitch.astype(np.int64)
    above = (pitch - roots.root[safe]) % 12
    stretch = pattern.row_of(bass.start, song.grid)
    kind = np.array([*pattern.kind, ""])[stretch]
    tonic, in_scale = _of_key(bass, keys)
    long = bass.end - bass.start > _SHORT * song.division
    rubs = long & ((above == 1) | (above == 11))
    lines = _runs(song, bass)

    _mark_ornaments(result, song, bass, roots, row, lines)
    result[of_two(bass, known, above, stretch, kind) & in_scale & ~rubs] = _SECOND
    result[known & (kind == "stepwise") & in_scale & ~rubs & _stands(song, bass, pattern)] = (
        _STEPWISE
    )
    root_somewhere = _is_a_root_of(roots, pitch % 12, stretch, row)
    pedal = (kind == "root-pedal") | (kind == "octave")
    pedal &= tonic | (root_somewhere & in_scale & ~rubs)
    pedal &= _returns(song, bass, roots, stretch, lines)
    first = lines.first[lines.of_note]  # a run that began as a root goes on as a pedal
    begun = (row[first] >= 0) & (roots.root[np.maximum(row[first], 0)] == pitch % 12)
    through = _pedal_of_song(bass, kind) & (tonic | (in_scale & ~rubs))
    result[pedal | (tonic & begun) | through | _under_three_roots(song, bass, roots, row)] = _PEDAL
    result[IS_TONE[roots.quality[safe], above]] = _CHORD_TONE
    is_root = above == 0
    result[is_root] = _ROOT
    lowest = np.full(len(roots), 128, dtype=np.int64)
    np.minimum.at(lowest, row[known & is_root], pitch[known & is_root])
    result[is_root & (pitch > lowest[safe])] = _OCTAVE
    result[~known] = _OTHER
    return result


def _of_key(bass: Notes, keys: Keys) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each note is the tonic, and whether in the scale: where no key is known, all are."""
    if not len(keys):
        return np.zeros(len(bass), dtype=bool), np.ones(len(bass), dtype=bool)
    row = last_row(keys.start, bass.start)
    tonic = np.asarray(keys.tonic[row] == bass.pitch % 12)
    return tonic, np.asarray(keys.scale[row, bass.pitch % 12])


def _is_a_root_of(
    roots: Roots, classes: NDArray[np.int64], stretch: NDArray[np.int64], row: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether each note is the root of some chord under its own stretch of bars."""
    known = (row >= 0) & (stretch >= 0)
    table = np.zeros((int(stretch.max()) + 2, 13), dtype=bool)
    table[stretch[known], roots.root[row[known]]] = True
    return np.asarray(table[stretch, classes] & (stretch >= 0))


def _returns(
    song: Song, bass: Notes, roots: Roots, stretch: NDArray[np.int64], lines: _Runs
) -> NDArray[np.bool_]:
    """Whether a pedal may stand on each note; any other is one note alone, as a slip is.

    It may on a tone that its bars stand on half the time, on one struck again at once, and on one
    held over from a chord that it is the root of.
    """
    classes, near = bass.pitch % 12, _NEAR * song.division
    place = (stretch + 1) * 12 + classes  # −1, no pattern, comes first
    long = np.maximum(bass.end - bass.start, 1)
    held = np.bincount(place, long, minlength=12 * (int(stretch.max()) + 2)).reshape(-1, 12)
    result = 2 * held.ravel()[place] >= held.sum(axis=1)[stretch + 1]
    result |= np.bincount(lines.of_note)[lines.of_note] > 1
    for tick in (bass.start + near, bass.end - near):
        row = last_row(roots.start, tick)
        result |= roots.root[row] == classes
    return np.asarray(result)


def _pedal_of_song(bass: Notes, kind: NDArray[np.str_]) -> NDArray[np.bool_]:
    """Whether each note is of the pitch class on which the line stands as a pedal most of the time.

    Such a line is a pedal in the bars, too, that a roll, a slide or a slip makes a mixed pattern.
    """
    held = kind == "root-pedal"
    length = np.maximum(bass.end - bass.start, 1)
    classes = bass.pitch % 12
    tone = np.bincount(classes[held], weights=length[held], minlength=12).argmax()
    most = 2 * length[held].sum() >= length.sum()
    most |= held.any() and length[classes == tone].sum() >= _PEDAL_SHARE * length.sum()
    return np.asarray(most & (classes == tone))


def _under_three_roots(
    song: Song, bass: Notes, roots: Roots, row: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether each note is held, or struck again with no other between, under three roots or more.

    Whatever the key: a floor that stays while three chords pass over it is a pedal point.
    """
    order = np.argsort(bass.part, kind="stable")
    part, classes = bass.part[order], bass.pitch[order] % 12
    rest = np.append(0, bass.start[order][1:] - bass.end[order][:-1])
    new = np.append(True, (part[1:] != part[:-1]) | (classes[1:] != classes[:-1]))
    new |= rest > _PEDAL_REST * song.division
    stand = np.empty(len(bass), dtype=np.int64)
    stand[order] = np.cumsum(new) - 1
    # a long note stands under every chord that begins while it lasts
    first = np.searchsorted(roots.end, bass.start, side="right")
    count = np.clip(np.searchsorted(roots.start, bass.end) - first, 0, _MOST_CHORDS)
    chord = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    chord += np.repeat(first, count)
    of_stand = np.repeat(stand, count)
    near = _NEAR * song.division
    shared = np.minimum(np.repeat(bass.end, count), roots.end[chord])
    shared -= np.maximum(np.repeat(bass.start, count), roots.start[chord])
    heard = (roots.root[chord] >= 0) & (shared > near)
    heard |= chord == np.repeat(row, count)
    heard &= (roots.root[chord] >= 0) & (roots.certainty[chord] >= _IN_SIGHT)
    under = np.zeros((int(stand.max()) + 1, 12), dtype=bool)
    under[of_stand[heard], roots.root[chord[heard]]] = True
    return np.asarray(under.sum(axis=1)[stand] >= _PEDAL_ROOTS)


def _stands(song: Song, bass: Notes, pattern: Pattern) -> NDArray[np.bool_]:
    """Whether each note is of the pitch class that its bar stands on longest.

    And more than one in eight bars of its pattern stand there: one alone is a slip.
    """
    bar = bar_of_onset(bass.start, song.grid)
    key = bar * 12 + bass.pitch % 12
    weight = np.maximum(bass.end - bass.start, 1)
    held = np.bincount(key, weights=weight, minlength=song.grid.bars * 12).reshape(-1, 12)
    main, stretch = held.argmax(axis=1), pattern.row_at(np.arange(song.grid.bars))
    struck = np.flatnonzero((held.sum(axis=1) > 0) & (stretch >= 0))
    place = np.maximum(pattern.row_at(bar), 0) * 12 + main[bar]
    often = np.bincount(stretch[struck] * 12 + main[struck], minlength=int(place.max()) + 1)
    length = (pattern.end_bar - pattern.start_bar)[place // 12] if len(pattern) else 0
    return np.asarray((main[bar] == bass.pitch % 12) & (8 * often[place] > length))


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Notes of one pitch class struck again and again as one, in whatever octaves; columns [r].

    ``of_note``: the run of each note.
    """

    of_note: NDArray[np.int64]  # [m]
    first: NDArray[np.int64]  # note rows
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int64]  # pitch class
    before: NDArray[np.int64]  # run before in the same part without a rest between, else −1
    after: NDArray[np.int64]


def _runs(song: Song, bass: Notes) -> _Runs:
    order = np.argsort(bass.part, kind="stable")
    part, pitch = bass.part[order], bass.pitch[order].astype(np.int64) % 12
    start, end = bass.start[order], bass.end[order]
    rest = np.append(0, start[1:] - end[:-1])
    joined = rest <= _CONNECTED * song.division
    joined &= np.append(False, part[1:] == part[:-1])
    new = ~joined | np.append(True, np.diff(pitch) != 0)
    first = np.flatnonzero(new)
    of_note = np.empty(len(bass), dtype=np.int64)
    of_note[order] = np.cumsum(new) - 1
    last = np.append(first[1:], len(bass)) - 1
    index = np.arange(len(first))
    linked = joined[first]
    before = np.where(linked, index - 1, -1)
    after = np.append(np.where(linked[1:], index[1:], -1), -1)
    return _Runs(of_note, order[first], start[first], end[last], pitch[first], before, after)


def _mark_ornaments(
    result: NDArray[np.int8],
    song: Song,
    bass: Notes,
    roots: Roots,
    row: NDArray[np.intp],
    runs: _Runs,
) -> None:
    """Mark short notes that lead from one note to the next, in place; they stand on weak places."""
    division = song.division
    until = np.where(runs.after >= 0, np.minimum(runs.end, runs.start[runs.after]), runs.end)
    short = until - runs.start <= _SHORT * division
    near = _NEAR * division
    bar = bar_of_onset(runs.start, song.grid)
    chord = row[runs.first]
    safe = np.maximum(chord, 0)
    weak = (runs.start - song.grid.start[bar] > near) & (
        np.abs(runs.start - roots.start[safe]) > near
    )
    # the shorter way, octaves taken off: an octave line steps as well as a close one
    into = (runs.pitch[runs.after] - runs.pitch + 6) % 12 - 6
    from_ = (runs.pitch - runs.pitch[runs.before] + 6) % 12 - 6
    steps_in = (runs.before >= 0) & (np.abs(from_) <= 2)
    steps_out = (runs.after >= 0) & (np.abs(into) <= 2)
    next_chord = chord[runs.after]
    next_root = roots.root[np.maximum(next_chord, 0)]
    lands = (next_chord >= 0) & (runs.pitch[runs.after] == next_root)

    ornament = short & weak
    slurred = (runs.after >= 0) & (runs.end > runs.start[runs.after])
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
    for found, function in (
        (grace, _GRACE),
        (approach, _APPROACH),
        (neighbour, _NEIGHBOUR),
        (passing, _PASSING),
    ):
        result[found[runs.of_note]] = function
