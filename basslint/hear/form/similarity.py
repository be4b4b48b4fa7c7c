"""How alike are bars?

The layers of some roles stand side by side in one matrix, each scaled so that the product of two
rows is the weighted sum over the layers: one matrix product compares all bars with all others.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import Bars, Singles
from basslint.util.records import record

Rows = NDArray[np.int64]

_NOTHING = 1e-6  # weight of two bars in which nothing plays, but for rounding
_DIGITS = 5  # equal bars must not differ in the last digits of a sum


# of each two bars, [m, m]: how alike what sounds in both is, and the weight of what does in either
Shared = tuple[Singles, Singles]


@record(eq=False)
class Similarity:
    """Bars ready to be compared: ``vectors`` [b, d], and ``sounds`` [b, layers], both scaled.

    Layers that are silent in both bars say nothing; a layer silent in one of them says "unlike".
    """

    vectors: Singles
    sounds: Singles

    @staticmethod
    def of(bars: Bars, roles: Collection[str]) -> Similarity:
        """Compare bars in some roles."""
        layers = [layer for layer in bars.layers if layer.role in roles]
        # a column of nothing is last: there may be no layer
        width = sum(layer.vectors.shape[1] for layer in layers) + 1
        vectors = np.zeros((len(bars), width), dtype=np.float32)
        sounds = np.zeros((len(bars), len(layers) + 1), dtype=np.float32)
        end = 0
        for column, layer in enumerate(layers):
            begin, end, scale = end, end + layer.vectors.shape[1], layer.weight**0.5
            np.multiply(layer.vectors, scale, out=vectors[:, begin:end])
            sounds[:, column] = layer.sounds * scale
        return Similarity(vectors, sounds)

    def content(self, begin: int, end: int) -> bytes:
        """All that the bars ``begin`` to ``end`` (exclusive) hold: the same for equal ones."""
        return self.vectors[begin:end].tobytes() + self.sounds[begin:end].tobytes()

    def shared(self, begin: int, end: int) -> Shared:
        """What each two of the bars ``begin`` to ``end`` (exclusive) have in common."""
        vectors, sounds = self.vectors[begin:end], self.sounds[begin:end]
        # half of the columns are silent, tones and places that a song leaves out: they add nothing
        vectors = vectors[:, np.logical_or.reduce(vectors)]
        alone = np.add.reduce(np.square(sounds), axis=1)
        return vectors @ vectors.T, alone[:, None] + alone - sounds @ sounds.T

    def matrix(self, begin: int, end: int) -> Singles:
        """How alike each two of the bars ``begin`` to ``end`` (exclusive) are, 0..1, [m, m].

        Bars in which none of the roles plays are alike.
        """
        return alike(self.shared(begin, end))

    def pairs(self, one: Rows, other: Rows) -> Singles:
        """How alike bars are, pair by pair, [k]; 0 where nothing plays in both."""
        mine, theirs = self.vectors.take(one, axis=0), self.vectors.take(other, axis=0)
        total = np.einsum("ij,ij->i", mine, theirs)
        sounds = np.maximum(self.sounds.take(one, axis=0), self.sounds.take(other, axis=0))
        weight = np.einsum("ij,ij->i", sounds, sounds)
        return np.asarray(np.round(total / np.maximum(weight, _NOTHING), _DIGITS))


def together(one: Shared, other: Shared) -> Shared:
    """What bars have in common in the roles of both."""
    return one[0] + other[0], one[1] + other[1]


def alike(shared: Shared) -> Singles:
    """How alike bars are, 0..1, [m, m], by what they have in common (`Similarity.shared`)."""
    product, weight = shared
    with np.errstate(divide="ignore", invalid="ignore"):
        similarity = product / weight
    np.copyto(similarity, 1.0, where=weight <= _NOTHING)
    return similarity.round(_DIGITS, out=similarity)
