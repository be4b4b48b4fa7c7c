"""Is the sampler tuned to the one-shot, and if not, does the written or the sounding line fit?

A sampler plays a sound at its own pitch on its root key. Where the two differ, every note sounds as
far from what is written. Whether that is meant is for the harmony to say: of the twelve shifts of
the line, which one fits? That as written, that which the root key causes, or another one, which
another root key would cause.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.shift import AS_WRITTEN, SHIFTS
from basslint.hear.facts import Facts
from basslint.theory.tuning import octaves_aside
from basslint.util.columns import median
from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.hear.bassline.line_fit import Fit

Fitting = Literal["written", "sounding", "other", "unknown"]

_OCTAVE = 12
_C = 60  # samplers come with their root key on a C
_LOWEST, _HIGHEST = 24, 60  # C1 to C4: where the middle of a bass line lies (common practice)
_FEWEST = 4  # notes under harmony: fewer tell nothing of a line
_CLEARLY = 1.2  # log odds by which one line must fit better: measured on generated beats


@record
class Tuning:
    """How a one-shot stands to its root key.

    ``off``: semitones, −5 to 6, octaves aside, by which each note sounds above what is written, by
    the root key that is told, or by a C where none is; None where the sound's pitch is unknown.
    ``source`` of the root key: stated, file, default (the file holds what is written unasked) or
    unknown. ``fits``: which line the harmony speaks for; ``fitting``: by how many semitones, −5 to
    6, that line lies above what is written, None where none is spoken for. ``shift``: semitones
    with fraction by which notes are to be judged above what is written, ``judged`` of which are
    octaves and cents aside. ``octaves``: whole ones by
    which the line sounds higher and that are left out of that, since they move all of it out of a
    bass's register: the octave of the root key is at fault, not each note. ``apart``: as ``off``,
    with its octaves where the root key is told.
    """

    off: int | None
    source: str
    fits: Fitting
    shift: float
    octaves: int = 0
    fitting: int | None = None
    judged: int = 0
    apart: int | None = None


UNTOLD = Tuning(None, "unknown", "unknown", 0.0)


def hear_tuning(facts: Facts, pitch: NDArray[np.int16], fit: Fit) -> Tuning:
    """How the stated one-shot is tuned to the bass: ``pitch`` its keys, ``fit`` of that line.

    Where the harmony does not speak for what sounds, notes are judged where the line fits, octaves
    and cents apart: the sampler is at fault, not they. A root key that nobody chose moves what is
    judged only where the harmony speaks for it plainly.
    """
    if facts.sound_pitch is None:
        return UNTOLD
    source = facts.root_key_source if facts.root_key is not None else "unknown"
    root_key = _C if facts.root_key is None else facts.root_key
    shift = facts.sound_pitch - root_key + facts.transpose + facts.cents / 100
    whole = round(shift)
    off = octaves_aside(shift)
    fits, fitting = _fitting(fit, off)
    if source not in ("stated", "file"):
        judged = off if fits == "sounding" and fit.is_clear(off, (0,)) else 0
        apart = off if source == "unknown" else whole
        return Tuning(off, source, fits, float(judged), 0, fitting, judged, apart)
    judged = fitting or 0
    octaves = whole - off
    middle = float(median(pitch)) + octaves if len(pitch) else _LOWEST
    if _LOWEST <= middle <= _HIGHEST:
        judged_at, moved = judged + octaves + shift - whole, 0
    else:
        judged_at, moved = judged + shift - whole, octaves // _OCTAVE
    return Tuning(off, source, fits, judged_at, moved, fitting, judged, whole)


def _fitting(fit: Fit, off: int) -> tuple[Fitting, int | None]:
    """Which line fits: as written, as it sounds ``off`` above, another; and how far above it is."""
    if off == 0 or fit.notes < _FEWEST:
        return "unknown", None
    best = int(SHIFTS[fit.odds.argmax()])
    if best not in (0, off) and fit.is_clear(best, (0, off)):
        return "other", best
    lead = float(fit.odds[AS_WRITTEN] - fit.odds[AS_WRITTEN + off])
    if abs(lead) < _CLEARLY or (lead < 0 and not fit.may_move(off)):
        return "unknown", None
    return ("written", 0) if lead > 0 else ("sounding", off)
