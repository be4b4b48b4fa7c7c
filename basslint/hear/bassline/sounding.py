"""What pitch does each bass note sound? The one place that knows.

A written key is only where a note sets out: the pitch bend moves it (an E2 under a full bend of two
semitones sounds F#2), and every rule of pitch judges what sounds. A note that bends on its way has
the pitch of its key where it stands there for long enough to be heard as a note, else the first on
which it does; how it comes there and where it goes is a slide, whose landing is judged by itself.
One that slides all through, without a stand, counts as written.

Sources: MIDI 1.0 detailed specification (pitch bend, RPN 0), General MIDI 1 (±2 semitones where the
file states no range), RP-053 (MPE).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.residual_bend import hear_residual_bend
from basslint.song.arrangement import Notes, Song
from basslint.song.bends import BendCurve, hear_bends
from basslint.theory.general_midi import KEYS
from basslint.util.columns import differences, rows_where, turns
from basslint.util.records import record

_STANDS = 0.3  # quarters: an eighth, played short, is long enough to be heard as the note's pitch
_HALF = 0.5  # … so is half of a shorter note
_DRIFT = 0.35  # semitones that a line through a stand may climb: what climbs further is a slide
_AT_HOME = 0.25  # semitones off its key, and …
_HOME_SHARE = 0.15  # … share of its time from which a note has been on its key
_BENT = 0.05  # semitones: less is the jitter of a wheel at rest
_FEWEST_PIECES = 64  # of a note: more bend events than most notes have
_MOST_PIECES = 200_000  # bounds time and memory where notes last for hundreds of bend events


@record(eq=False)
class Sounding:
    """The pitch of each of some notes as written and as heard, columns of shape [m].

    ``written`` int16: the key, a MIDI number; ``pitch`` float64: what sounds, with its fraction of
    a semitone; ``nearest`` int16: the MIDI number nearest to it; ``assumed`` bool: it hangs on a
    bend range that neither file nor user states.
    """

    written: NDArray[np.int16]
    pitch: NDArray[np.float64]
    nearest: NDArray[np.int16]
    assumed: NDArray[np.bool_]

    @property
    def shift(self) -> NDArray[np.int64]:
        """Whole semitones from the written key up to what sounds, [m]; 0 for most notes."""
        return self.nearest.astype(np.int64) - self.written


def hear_sounding(
    song: Song, notes: Notes, bend_range: float | None, one_shot: bool, tuning: float = 0.0
) -> Sounding:
    """The sounding pitch of ``notes`` of bass parts, in order of time.

    ``bend_range`` (semitones) and ``one_shot`` as the user states them; ``tuning``: semitones by
    which the sampler sounds every note above its key. A note that only an earlier
    note's bend puts out of tune counts as written: that bend is the fault, and is told as such.
    """
    bend, assumed = np.zeros(len(notes)), np.zeros(len(notes), dtype=bool)
    curves = hear_bends(song, tuple(notes.parts), bend_range)
    if not curves and not tuning:  # every note sounds as it is written
        return Sounding(notes.pitch, notes.pitch.astype(np.float64), notes.pitch, assumed)
    for part, curve in curves.items():
        rows = rows_where(notes.part == part)
        bend[rows], assumed[rows] = _bends(curve, notes.take(rows), song.division)
    if (np.abs(bend) >= _BENT).any():
        residual = hear_residual_bend(song, notes, bend_range, one_shot, first=False)
        bend[residual != 0] = 0.0
    bend[np.abs(bend) < _BENT] = 0.0
    pitch = (notes.pitch + bend + tuning).clip(0, KEYS - 1)
    nearest = np.rint(pitch).astype(np.int16)
    return Sounding(notes.pitch, pitch, nearest, assumed & (bend != 0))


def _bends(
    curve: BendCurve, notes: Notes, division: int
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """How far each note of one part is bent where it first stands, and whether that is a guess."""
    bend, assumed = np.zeros(len(notes)), np.zeros(len(notes), dtype=bool)
    height = np.concatenate(([0.0], curve.semitones))
    guessed = np.concatenate(([False], ~curve.stated))
    end = np.maximum(notes.end, notes.start + 1)
    first = curve.tick.searchsorted(notes.start, side="right")
    last = curve.tick.searchsorted(end, side="left")
    away = np.concatenate(([0], (np.abs(height) >= _BENT).cumsum()))
    bent = rows_where(away[last + 1] > away[first])
    if not len(bent):
        return bend, assumed
    count = np.minimum(last[bent] - first[bent] + 1, max(_FEWEST_PIECES, _MOST_PIECES // len(bent)))
    note = np.repeat(bent, count)  # one piece for each height that the note has
    begins = count.cumsum() - count
    at = np.arange(len(note)) - np.repeat(begins, count) + first[note]
    edge = np.concatenate(([0], curve.tick, [np.iinfo(np.int64).max]))
    length = np.minimum(edge[at + 1], end[note]) - np.maximum(edge[at], notes.start[note])
    near = np.rint(height[at])
    new = np.concatenate(([True], (note[1:] != note[:-1]) | (near[1:] != near[:-1])))
    stand = rows_where(new)
    held = np.add.reduceat(length, stand)
    mean = np.add.reduceat(length * height[at], stand) / np.maximum(held, 1)
    owner = note[stand]
    enough = held >= np.minimum(_STANDS * division, _HALF * (end - notes.start)[owner])
    enough &= np.abs(_climb(length, height[at], stand)) <= _DRIFT
    at_home = np.bincount(note, length * (np.abs(height[at]) < _AT_HOME), minlength=len(notes))
    enough &= (at_home < _HOME_SHARE * (end - notes.start))[owner]
    order = np.lexsort((~enough, owner))  # the first that is long enough
    chosen = order[turns(owner[order])]
    chosen = chosen[enough[chosen]]
    bend[owner[chosen]] = mean[chosen]
    assumed[owner[chosen]] = guessed[at[stand[chosen]]]
    return bend, assumed


def _climb(
    length: NDArray[np.int64], height: NDArray[np.float64], stand: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Semitones by which a line fitted through each stand climbs from its start to its end.

    ``length`` ticks and ``height`` semitones of the pieces; ``stand``: the first piece of each.
    """
    weight = length.astype(np.float64)
    middle = weight.cumsum() - weight / 2

    def total(column: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.add.reduceat(column, stand))

    held = np.maximum(total(weight), 1.0)
    pieces = differences(np.concatenate((stand, [len(length)])))
    time = middle - np.repeat(total(weight * middle) / held, pieces)
    spread = total(weight * time**2 + weight**3 / 12)
    return np.asarray(total(weight * time * height) / np.maximum(spread, 1.0) * held)
