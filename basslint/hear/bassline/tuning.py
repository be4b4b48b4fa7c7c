"""Is the sampler tuned to the one-shot, and if not, does the written or the sounding line fit?

A sampler plays a sound at its own pitch on its root key. Where the two differ, every note sounds as
far from what is written. Whether that is meant is for the harmony to say: of the line as written
and the line as it sounds, which one fits?
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from basslint.hear.facts import Facts
from basslint.hear.harmony.sources import Roots
from basslint.song.arrangement import Notes
from basslint.util.columns import median
from basslint.util.records import record

Fitting = Literal["written", "sounding", "unknown"]

_OCTAVE = 12
_C = 60  # samplers come with their root key on a C
_LOWEST, _HIGHEST = 24, 60  # C1 to C4: where the middle of a bass line lies (common practice)
_FEWEST = 4  # notes under a chord: fewer tell nothing of a line
_CLEARLY = 0.1  # by so much one line must fit better, of 1: measured on generated beats


@record
class Tuning:
    """How a one-shot stands to its root key.

    ``off``: semitones, −5 to 6, octaves aside, by which each note sounds above what is written, by
    the root key that is told, or by a C where none is; None where the sound's pitch is unknown.
    ``source`` of the root key: stated, file, default (the file holds what is written unasked) or
    unknown. ``fits``: which line the harmony speaks for. ``shift``: semitones with fraction by
    which notes are to be judged above what is written. ``octaves``: whole ones by which the line
    sounds higher and that are left out of that, since they move all of it out of a bass's register:
    the octave of the root key is at fault, not each note.
    """

    off: int | None
    source: str
    fits: Fitting
    shift: float
    octaves: int = 0


UNTOLD = Tuning(None, "unknown", "unknown", 0.0)


def hear_tuning(facts: Facts, notes: Notes, roots: Roots, row: NDArray[np.intp]) -> Tuning:
    """How the stated one-shot is tuned to the written bass ``notes``, ``row`` of roots under each.

    Only a root key that somebody chose moves what is judged; and where the harmony does not speak
    for what sounds, notes are judged as written, octaves and cents apart: the sampler is at fault,
    not they.
    """
    if facts.sound_pitch is None:
        return UNTOLD
    source = facts.root_key_source if facts.root_key is not None else "unknown"
    root_key = _C if facts.root_key is None else facts.root_key
    shift = facts.sound_pitch - root_key + facts.transpose + facts.cents / 100
    whole = round(shift)
    off = 6 - (6 - whole) % _OCTAVE
    fits = _fitting(notes, roots, row, off)
    if source not in ("stated", "file"):
        return Tuning(off, source, fits, 0.0)
    judged = off if fits == "sounding" else 0
    octaves = whole - off
    middle = float(median(notes.pitch)) + octaves if len(notes) else _LOWEST
    if _LOWEST <= middle <= _HIGHEST:
        return Tuning(off, source, fits, judged + octaves + shift - whole)
    return Tuning(off, source, fits, judged + shift - whole, octaves // _OCTAVE)


def _fitting(notes: Notes, roots: Roots, row: NDArray[np.intp], off: int) -> Fitting:
    told = np.flatnonzero(row >= 0)
    if off == 0 or len(told) < _FEWEST:
        return "unknown"
    weight = (notes.end - notes.start)[told] * roots.certainty[row[told]]
    tone = notes.pitch[told].astype(np.int64)
    written, sounding = (
        float(np.average(roots.fit[row[told], (tone + s) % _OCTAVE], weights=weight + 1e-9))
        for s in (0, off)
    )
    if abs(written - sounding) < _CLEARLY:
        return "unknown"
    return "written" if written > sounding else "sounding"
