"""How likely is each line drums, bass, or harmony?

Small logistic scores over a line's texture, plus what its name and program say. Weights were fitted
with names and programs hidden, cross-validated over whole songs, and rounded: those of drums on the
songs of ``tests/bench/hearing_parts.py``; those of the bass on 347 real songs with a labelled bass,
each also without it, with it an octave high and with it a semitone off
(``tests/bench/fit_basses.py``; in songs that they were not fitted on, the bass is found in .92, an
octave high in .65, a semitone off in .90, another line taken for it in .05, in .03 one that does
not double it, and a line that is left claimed in .095 once both are out; of lines said to be a bass
with .5 to .7, .7 to .85, .85 to .95 and more, .57, .79, .98 and .99 are or double one). Those of
harmony against melody are set by hand.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.parts.names import Role, role_by_name, role_by_program
from basslint.hear.parts.texture import Floats, Texture
from basslint.song.arrangement import Part
from basslint.theory.general_midi import DRUM_CHANNEL, LOWEST_DRUM_KEY
from basslint.util.columns import TINY, distinct, median
from basslint.util.records import record

# log-odds that a line is drums: share of drum-set keys, share struck in harsh intervals, leaps
_DRUM_BASE, _DRUM_KIT, _DRUM_HARSH, _DRUM_LEAP = -8.75, 7.2, 6.5, 0.24
# a line of one key, by hand: log-odds of a drum; the longest hit (quarters) among other such lines
# and alone; a stroke (quarters); and how many times the usual length such lines have when held
_SINGLE_DRUM, _LONGEST_HIT, _LONE_HIT, _STROKE, _HELD = 2.0, 4.0, 0.5, 0.25, 4.0
_MOST_ODDS = 30.0  # log-odds: beyond it a probability is 0 or 1 in all digits that count
_STANDS = 1.0  # quarters: what is held so long in two octaves at once is no pair of drum sounds
LOW = 48.0  # C3: a line whose mean lies above is no low line
_HIGHEST_BASS = 57.0  # A3: a bass that is written an octave high has its mean below it
_MOSTLY = 0.5  # what plays several notes at once for more of its time plays chords
BASS_REGISTER = 42.0  # F#2: few basses have their mean above it
# how the time in which a line plays counts: e-folds, and what is added to it
_LITTLE = 0.05
# halvings of its pace below one note a quarter, two at most, and only where more lines than this
# play: there a slow low line is as often the floor of a pad
_SLOWEST, _MANY_LINES = -2.0, 5
_WALK = 0.5  # doublings from a note a quarter within which a line can be said to walk
# log-odds that a pitched line is the bass, for each piece of `bass_evidence`, and without any
BASS_EVIDENCE = ("high", "stacked", "floor", "plays", "stands", "slow", "walks")
_BASS_WEIGHTS = np.array([-0.19, -3.2, 1.95, 2.1, 3.3, 0.2, 2.8])
_BASS_BASE = -0.85
# arpeggios: share of skips and of even steps, onsets a quarter; by hand
_BROKEN_SKIPS, _BROKEN_EVEN, _BROKEN_PACE = 0.6, 0.6, 1.5
# log-odds that a pitched line is harmony rather than melody
_CHORD_BASE, _CHORD_VOICES, _CHORD_STRUCK, _CHORD_BROKEN = -2.0, 6.0, 2.0, 4.0
# what a name and a program weigh, in log-odds: a name is somebody's word, a program is often
# no more than what the sequencer put there
_BY_NAME, _BY_PROGRAM, _NOT_BY_NAME, _NOT_BY_PROGRAM = 6.0, 5.0, -4.0, -3.0
_BY_DRUM_CHANNEL = 6.0


@record
class Labels:
    """The roles that the name, the program and the channel of a line suggest."""

    name: Role | None
    word: str
    program: Role | None
    on_drum_channel: bool


def read_labels(parts: tuple[Part, ...], group: NDArray[np.int64], lines: int) -> list[Labels]:
    """Read the roles that names, programs and channels suggest for each line."""
    # a name that every part bears is the song's, not a part's
    shared = len(parts) > 1 and len({p.track_name for p in parts}) == 1
    first: dict[int, Part] = {}
    for line, part in zip(group.tolist(), parts, strict=True):
        first.setdefault(line, part)
    result: list[Labels] = []
    for part in map(first.__getitem__, range(lines)):
        named = None if shared else role_by_name(part.track_name)
        role, word = named if named else (None, "")
        drums = part.channel == DRUM_CHANNEL
        if drums and role == "bass":  # a "bass pedal" among percussion is the kick's
            role, word = None, ""
        result.append(Labels(role, word, role_by_program(part.program), drums))
    return result


def _label_odds(labels: list[Labels], role: Role, other: tuple[Role, ...]) -> Floats:
    """Log-odds for ``role`` from names and programs; one of ``other`` counts against.

    A name of ``other`` on a program of ``role`` (a staff that is called "Piano" by the notation
    program and plays a bass) says nothing.
    """
    score = np.zeros(len(labels))
    for k, t in enumerate(labels):
        if t.name == role:
            score[k] += _BY_NAME
        elif t.name in other and t.program != role:
            score[k] += _NOT_BY_NAME
        if t.program == role and t.name not in other:
            score[k] += _BY_PROGRAM
        elif t.program in other and t.name != role:
            score[k] += _NOT_BY_PROGRAM
    return np.minimum(score, _BY_NAME)


def _logistic(score: Floats) -> Floats:
    odds = np.minimum(np.maximum(score, -_MOST_ODDS), _MOST_ODDS)
    return np.asarray(1.0 / (1.0 + np.exp(-odds)))


def drums_likelihood(t: Texture, labels: list[Labels]) -> Floats:
    """Probability that each line is drums, [lines]."""
    score = _DRUM_BASE + _DRUM_KIT * t.kit + _DRUM_HARSH * t.harsh + _DRUM_LEAP * t.leap
    # one key only: a drum sound of its own where several lines are like that, or where it is
    # struck short and high; a low one that is held may be a pedal bass
    single = t.pitches == 1
    # a pedal held in two octaves at once is one line and its layer
    keys = t.low[single]
    several = len(keys) > 1 and not (
        t.length[single].min() >= _STANDS
        and np.ptp(t.notes[single]) == 0
        and len(distinct(keys)) == len(keys)
        and len(distinct(keys % 12)) == 1
    )
    usual = float(median(t.length[single])) if several else 0.0
    # under the keys of a drum set, where the drums are known to be elsewhere, however short
    elsewhere = any(x.on_drum_channel for x in labels)
    under = (t.mean < LOWEST_DRUM_KEY) & (elsewhere | (t.length > _STROKE))
    held = (t.length >= _HELD * usual) | under
    pedal = (t.mean < LOW) & (held | (not several))
    hits = single & ~pedal & (t.length <= (_LONGEST_HIT if several else _LONE_HIT))
    score = np.where(hits, _SINGLE_DRUM, score)
    score += _BY_DRUM_CHANNEL * np.array([x.on_drum_channel for x in labels])
    return _logistic(score + _label_odds(labels, "drums", ("bass", "harmony", "melody", "other")))


def may_be_bass(t: Texture) -> NDArray[np.bool_]:
    """Lines low enough for a bass, at a pinch, that mostly play one note at a time, [lines]."""
    return np.asarray((t.mean < _HIGHEST_BASS) & (t.voices < _MOSTLY))


def bass_evidence(t: Texture, pitched: NDArray[np.bool_], floor: Floats, support: Floats) -> Floats:
    """What speaks for and against each line as the bass, [lines, evidence].

    ``high``: semitones of its mean above the register of basses; ``stacked``: share of its time, or
    of its notes if more, in which it plays several; ``floor``: share of the song in which no
    ``pitched`` line is lower (`texture.lowest_shares`); ``plays``: logarithm of the share of the
    song's stretches in which it plays; ``stands``: ``support``, how much the others stand on it as
    on a root; ``slow``: its pace below a note a quarter, among many lines; ``walks``: how far it
    goes in even quarters under all others.
    """
    lines = int(pitched.sum())
    pace = np.log2(np.maximum(t.pace, TINY))
    columns = (
        np.maximum(t.mean - BASS_REGISTER, 0.0),
        np.maximum(t.voices, t.stacked),
        floor,
        np.log(t.plays + _LITTLE),
        support,
        np.minimum(np.maximum(pace, _SLOWEST), 0.0) * (lines > _MANY_LINES),
        floor * t.even * np.maximum(1.0 - np.abs(pace) / _WALK, 0.0),
    )
    return np.ascontiguousarray(np.array(columns).T)


def bass_likelihood(
    t: Texture, labels: list[Labels], pitched: NDArray[np.bool_], floor: Floats, support: Floats
) -> Floats:
    """Probability that each line is a bass, given that it is ``pitched``, [lines].

    ``floor`` float64 [lines]: share of the song in which no pitched line is lower; ``support``: how
    much the others stand on it (`standing.root_support`).
    """
    score = _BASS_BASE + bass_evidence(t, pitched, floor, support) @ _BASS_WEIGHTS
    return _logistic(score + _label_odds(labels, "bass", ("harmony", "melody", "drums", "other")))


def harmony_likelihood(t: Texture, labels: list[Labels]) -> Floats:
    """Probability that each line is harmony, given that it is harmony or melody, [lines]."""
    broken = (t.skips > _BROKEN_SKIPS) & (t.even > _BROKEN_EVEN) & (t.pace > _BROKEN_PACE)
    score = _CHORD_BASE + _CHORD_VOICES * t.voices + _CHORD_STRUCK * t.struck
    return _logistic(score + _CHORD_BROKEN * broken + _label_odds(labels, "harmony", ("melody",)))
