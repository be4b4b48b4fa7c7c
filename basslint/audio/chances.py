"""How likely does each note sound, is it struck, is it the lowest, in each eighth?

Heard twice: first by what its own sound says (`basslint.audio.eighths`), then with what was heard
first of other notes and moments beside that (`basslint.audio.context`). Each time three weighted
sums and a small layer of nodes between (logistic regression with one hidden layer), the same
weights for every note, fitted by maximum likelihood on rendered loops: see `weights.json`, which
names what it was fitted on and what came of it, and ``tests/bench/fit_loops.py``, which fits it.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.audio.context import context, context_names
from basslint.audio.eighths import feature_names
from basslint.util.records import record

Singles = NDArray[np.float32]

_EIGHTHS = 512  # weighed at a time: bounds the memory


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
def weights() -> tuple[Weights, Weights]:
    """The fitted weights of the first and of the second hearing."""
    text = resources.files("basslint.audio").joinpath("weights.json").read_text(encoding="utf-8")
    stored = json.loads(text)
    names = feature_names()
    return _table(stored["first"], names), _table(stored["second"], names + context_names())


def _table(stored: dict[str, Any], names: tuple[str, ...]) -> Weights:
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


def note_chances(speaks: Singles, bar: int) -> NoteChances:
    """Weigh what speaks for each note, ``speaks`` [n, notes, features] as from `features`.

    ``bar``: eighths of a bar.
    """
    first, second = weights()
    return heard_again(speaks, heard_once(speaks, first), bar, second)


def heard_once(speaks: Singles, table: Weights) -> NoteChances:
    """Chances by what the sound of each note says."""
    blocks = range(0, len(speaks), _EIGHTHS)
    return _chances([_weigh(speaks[at : at + _EIGHTHS], table) for at in blocks])


def heard_again(speaks: Singles, once: NoteChances, bar: int, table: Weights) -> NoteChances:
    """Chances by what the sound of each note says and what was heard ``once`` around it."""
    columns = list(context(once.sounds, once.struck, once.lowest, bar).values())
    blocks = []
    for begin in range(0, len(speaks), _EIGHTHS):
        rows = slice(begin, begin + _EIGHTHS)
        around = np.stack([column[rows] for column in columns], axis=2)
        blocks.append(_weigh(np.concatenate((speaks[rows], around), axis=2), table))
    return _chances(blocks)


def _weigh(columns: Singles, table: Weights) -> Singles:
    """Chances [n, notes, 3] of columns [n, notes, features]."""
    flat = columns.reshape(-1, columns.shape[2])
    node = np.tanh(flat @ table.into + table.into_bias)
    odds = node @ table.out + flat @ table.direct + table.bias
    return np.asarray(1.0 / (1.0 + np.exp(-odds))).reshape(*columns.shape[:2], 3)


def _chances(blocks: list[Singles]) -> NoteChances:
    whole = np.concatenate(blocks)
    return NoteChances(whole[:, :, 0], whole[:, :, 1], whole[:, :, 2])
