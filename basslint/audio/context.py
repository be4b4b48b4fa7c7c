"""What do other notes and moments, as they are heard at first, say of each note in each eighth?

The columns that `basslint.audio.chances` weighs the second time, beside those of
`basslint.audio.eighths`: a note is likelier where its chord sounds around it, where it sounds all
through the loop, and where the bars beside this one have it too; an octave or a fifth is less
likely where the note it may be an overtone of was heard.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from basslint.audio.notes import FIRST_NOTE, NOTES

Singles = NDArray[np.float32]

_EIGHTHS = (-2, -1, 1, 2)  # before and after this one that say whether a note sounds
_EIGHTHS_STRUCK = (-1, 1, 2)  # and whether it is struck
_BARS = (-2, -1, 1, 2)  # before and after this one: loops repeat
_BARS_STRUCK = (-1, 1)
# Semitones to notes that a chord may have beside this one, and to those it is mistaken for.
_NOTES = (-24, -19, -12, -7, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 7, 12, 19, 24)
_NOTES_STRUCK = (-12, -1, 1, 12)
_REACH = 24  # semitones of silence added to either side: the farthest of them
_CLASS = (FIRST_NOTE + np.arange(NOTES)) % 12
_SMALL = 0.2  # brings sums over many notes to the size of the other columns


def context(sounds: Singles, struck: Singles, lowest: Singles, bar: int) -> dict[str, Singles]:
    """Columns by name, float32 [n, `NOTES`] each, from chances of the same shape.

    ``bar``: eighths of a bar. The eighths are taken as a circle.
    """
    return dict(_columns(sounds, struck, lowest, bar))


def context_names() -> tuple[str, ...]:
    """Names of the columns in their order."""
    nothing = np.zeros((1, NOTES), np.float32)
    return tuple(context(nothing, nothing, nothing, 1))


def _columns(
    sounds: Singles, struck: Singles, lowest: Singles, bar: int
) -> Iterator[tuple[str, Singles]]:
    yield from (("sounds", sounds), ("struck", struck), ("lowest", lowest))
    for kind, chance, eighths, bars, notes in (
        ("sounds", sounds, _EIGHTHS, _BARS, _NOTES),
        ("struck", struck, _EIGHTHS_STRUCK, _BARS_STRUCK, _NOTES_STRUCK),
    ):
        for k in eighths:
            yield f"{kind} eighth {k:+d}", np.roll(chance, -k, axis=0)
        for k in bars:
            yield f"{kind} bar {k:+d}", np.roll(chance, -k * bar, axis=0)
        padded = np.pad(chance, ((0, 0), (_REACH, _REACH)))
        for k in notes:
            yield f"{kind} note {k:+d}", padded[:, _REACH + k : _REACH + k + NOTES]
        many = np.float32(_SMALL) * chance.sum(axis=1, keepdims=True)
        yield f"{kind} together", np.broadcast_to(many, chance.shape)
    often = sounds.mean(axis=0)
    yield "sounds in loop", np.broadcast_to(often, sounds.shape)
    scale = np.bincount(_CLASS, often, 12)
    scale = (scale / max(float(scale.max()), 1e-6)).astype(np.float32)
    for k in range(12):
        yield f"class {k:+d} in loop", np.broadcast_to(scale[(_CLASS + k) % 12], sounds.shape)
