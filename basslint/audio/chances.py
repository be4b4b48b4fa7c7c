"""How likely does each note sound, is it struck, is it the lowest, in each eighth?

Three weighted sums and a small layer of nodes between (logistic regression with one hidden layer),
the same weights for every note, fitted by maximum likelihood on rendered loops: see `weights.json`,
which names what it was fitted on and what came of it, and ``tests/bench/loops.py``, which fits it.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from basslint.audio.eighths import feature_names
from basslint.util.records import record

Singles = NDArray[np.float32]

_ROWS = 65_536  # of note and eighth weighed at a time: bounds the memory


@record(eq=False)
class NoteChances:
    """Chances 0..1 by eighth and note from E1 on, float32 [n, notes] each.

    ``sounds``: share of the eighth in which the note sounds. ``struck``: it begins there.
    ``lowest``: it is the lowest of the beat.
    """

    sounds: Singles
    struck: Singles
    lowest: Singles


@record(eq=False, kw_only=True)
class Weights:
    """``into`` [features, nodes] and ``into_bias`` [nodes] of the hidden layer; ``out`` [nodes, 3],
    ``direct`` [features, 3] and ``bias`` [3] of sounds, struck, lowest.
    """

    into: Singles
    into_bias: Singles
    out: Singles
    direct: Singles
    bias: Singles


@cache
def weights() -> Weights:
    """The fitted weights."""
    text = resources.files("basslint.audio").joinpath("weights.json").read_text(encoding="utf-8")
    stored = json.loads(text)
    names = feature_names()
    by_name = stored["features"]
    assert tuple(by_name) == names, "weights.json was fitted on other features: fit it again"
    rows = np.array([by_name[name] for name in names], dtype=np.float32)
    nodes = len(stored["nodes"])
    hidden = np.array(stored["nodes"], dtype=np.float32)
    bias = np.array(stored["bias"], dtype=np.float32)
    return Weights(
        into=rows[:, :nodes],
        into_bias=hidden[:, 0],
        out=hidden[:, 1:],
        direct=rows[:, nodes:],
        bias=bias,
    )


def note_chances(speaks: Singles, table: Weights | None = None) -> NoteChances:
    """Weigh what speaks for each note, ``speaks`` [n, notes, features] as from `features`."""
    use = weights() if table is None else table
    n, notes, _ = speaks.shape
    flat = speaks.reshape(n * notes, -1)
    chance = np.empty((len(flat), 3), dtype=np.float32)
    for begin in range(0, len(flat), _ROWS):
        rows = flat[begin : begin + _ROWS]
        node = np.tanh(rows @ use.into + use.into_bias)
        odds = node @ use.out + rows @ use.direct + use.bias
        chance[begin : begin + len(rows)] = 1.0 / (1.0 + np.exp(-odds))
    by_note = chance.reshape(n, notes, 3)
    return NoteChances(by_note[:, :, 0], by_note[:, :, 1], by_note[:, :, 2])
