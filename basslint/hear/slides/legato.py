"""Do the overlapping notes of a part glide, or are they played legato?

Fingers let go of a note a little after the next one is plucked, and a keyboard holds notes over;
neither makes a sound glide. So an overlap counts as a glide only on evidence: a name that says so,
a controller for mono mode or portamento, a program that is played so or such a sound's name (save
where most overlaps are hairs that nobody draws), a fact that the user stated of the sound, or a few
long overlaps, drawn on purpose, in a line that else is played apart. Where most of the notes would
be over before a glide had come to them, the line would not sound at all: then nothing glides there.

Controllers: MIDI 1.0 detailed specification; programs: General MIDI 1. What counts as a few and as
long is common practice, no source.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.glides import RAGGED_OVERLAP
from basslint.hear.slides.voice import Voice
from basslint.smf.status import CONTROLLER
from basslint.song.arrangement import Part, Song
from basslint.song.ranges import heard_by
from basslint.util.columns import rows_where

_PORTAMENTO_TIME, _MONO_MODE = 5, 126  # controllers, MIDI 1.0
_GLIDES = frozenset((*range(38, 40), *range(80, 88)))  # synth basses and leads, General MIDI 1
_FINGERED = frozenset(range(24, 38))  # guitars, acoustic to slap bass, General MIDI 1: by hand
_GLIDING_WORDS = "808 808s sub subs subbass glide glides slide slides gliding portamento mono"
_SYNTH_WORDS = "synth synthbass lead leads"  # say as much as the programs of such sounds
_FINGERED_WORDS = (
    "guitar fretless finger fingered upright double contrabass contrabasso acoustic slap picked "
    "pick"
)
_GLIDING, _SYNTHS, _FINGERED_BY_NAME = (
    frozenset(words.split()) for words in (_GLIDING_WORDS, _SYNTH_WORDS, _FINGERED_WORDS)
)
_TOKEN = r"\d+s?|[A-Z]?[a-z]+|[A-Z]+(?![a-z])"

_LONG_SHARE = 0.5  # of the glide time: half way through it, an overlap can be seen in a piano roll
_FEW = 3  # overlaps that are few in a line of any length …
_FEW_SHARE = 0.25  # … else so many of its steps from note to note
_SHORT_PER_LONG = 0.5  # where shorter overlaps are more, overlapping is how the hand plays


def overlaps_glide(song: Song, part: int, voice: Voice, glide_s: float, stated: bool) -> bool:
    """Whether the overlaps of a part (an index into song.parts) are glides.

    ``voice``: its notes; ``glide_s``: how long a glide takes; ``stated``: the user has told facts
    of the bass sound that only a gliding one-shot or synth has.
    """
    owner = song.parts[part]
    if (
        stated
        or voice.switched
        or np.count_nonzero(voice.glides_from >= 0)
        or _steered(song, owner)
    ):
        return True
    words = _words(owner.name) | _words(owner.track_name)
    if words & _GLIDING:
        return True
    if owner.program in _GLIDES or words & _SYNTHS:
        # some of these sounds glide, others are a keyboard's
        return not (_mostly_hairs(voice, glide_s) or _mostly_cut_off(voice, glide_s))
    if owner.program in _FINGERED or words & _FINGERED_BY_NAME:
        return False
    return _a_few_long_ones(voice, glide_s) and not _mostly_cut_off(voice, glide_s)


def _words(name: str) -> set[str]:
    return {word.lower() for word in re.findall(_TOKEN, name)}


def _steered(song: Song, owner: Part) -> bool:
    """Whether mono mode or a portamento time is set on the channel of a part."""
    if song.steering.controllers.isdisjoint((_PORTAMENTO_TIME, _MONO_MODE)):
        return False
    changes = song.changes
    mine = (changes.kind == CONTROLLER) & (changes.channel == owner.channel)
    mine &= (changes.number == _MONO_MODE) | (
        (changes.number == _PORTAMENTO_TIME) & (changes.value > 0)
    )
    rows = rows_where(mine)
    return bool(len(rows) and heard_by(song, owner.track, changes.take(rows)).any())


def _mostly_hairs(voice: Voice, glide_s: float) -> bool:
    """Whether more than a few overlaps are too short to be drawn, and more than all others."""
    met = _overlaps(voice)
    hairs = int(np.count_nonzero((met > 0) & (met <= RAGGED_OVERLAP * glide_s)))
    return hairs > max(_FEW, int(np.count_nonzero(met > 0)) - hairs)


def _mostly_cut_off(voice: Voice, glide_s: float) -> bool:
    """Whether more than a few glides would not arrive, and more than all that would."""
    met = _overlaps(voice)[:-1] > 0
    sounds = np.minimum(voice.end_s[1:-1], voice.start_s[2:]) - voice.start_s[1:-1]
    cut = int(np.count_nonzero(met & (sounds < glide_s)))
    return cut > max(_FEW, int(np.count_nonzero(met)) - cut)


def _overlaps(voice: Voice) -> NDArray[np.float64]:
    """How long each note overlaps the next, [n - 1] s: 0 where that is no later or no other one."""
    moves = (voice.start[1:] > voice.start[:-1]) & (voice.pitch[1:] != voice.pitch[:-1])
    return np.where(moves, voice.end_s[:-1] - voice.start_s[1:], 0.0)


def _a_few_long_ones(voice: Voice, glide_s: float) -> bool:
    """Whether a line that is played apart has some long overlaps to another pitch.

    A note that is held into the second note after it is a voice of its own, and leads nowhere.
    """
    met = _overlaps(voice)
    held = np.append(voice.end_s[:-2] > voice.start_s[2:], False)
    long = int(np.count_nonzero((met >= _LONG_SHARE * glide_s) & ~held))
    short = int(np.count_nonzero(met > 0)) - long
    few = max(_FEW, _FEW_SHARE * np.count_nonzero(voice.start[1:] > voice.start[:-1]))
    return 0 < long <= few and short <= max(_SHORT_PER_LONG * long, 1)
