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


@record(eq=False)
class Similarity:
    """Bars ready to be compared: ``vectors`` [b, d], and ``sounds`` [b, layers], both scaled.

    Layers that are silent in both bars say nothing; a layer silent in one of them says "unlike".
    ``lead``: how many columns of each are those of the lead, which come first.
    """

    vectors: Singles
    sounds: Singles
    lead: tuple[int, int]

    @staticmethod
    def of(bars: Bars, roles: Collection[str]) -> Similarity:
        """Compare bars in some roles."""
        layers = [layer for layer in bars.layers if layer.role in roles]
        # a column of nothing is last: there may be no layer
        nothing = np.zeros((len(bars), 1), dtype=np.float32)
        columns = [*(layer.vectors for layer in layers), nothing]
        scale = np.array([*(layer.weight**0.5 for layer in layers), 1.0], dtype=np.float32)
        vectors = np.concatenate(columns, axis=1)
        vectors *= scale.repeat([column.shape[1] for column in columns])
        sounds = np.array([*(layer.sounds for layer in layers), nothing[:, 0]], dtype=np.float32).T
        leads = bool(layers) and layers[0].role == "lead"
        return Similarity(vectors, sounds * scale, (columns[0].shape[1] * leads, int(leads)))

    def content(self, begin: int, end: int) -> bytes:
        """All that the bars ``begin`` to ``end`` (exclusive) hold: the same for equal ones."""
        return self.vectors[begin:end].tobytes() + self.sounds[begin:end].tobytes()

    def matrices(self, begin: int, end: int) -> Singles:
        """How alike each two of the bars ``begin`` to ``end`` (exclusive) are, 0..1, [2, m, m]: in
        all, and in all but the lead.

        Bars in which none of the roles plays are alike.
        """
        vectors, sounds = self.vectors[begin:end], self.sounds[begin:end]
        # half of the columns are silent, tones and places that a song leaves out: they add nothing
        used = np.maximum.reduce(vectors) > 0.0
        columns, leads = self.lead
        vectors, lead = vectors[:, used], int(np.count_nonzero(used[:columns]))
        others = _shared(vectors[:, lead:], sounds[:, leads:])
        whole = others + _shared(vectors[:, :lead], sounds[:, :leads]) if leads else others
        product, weight = np.array((whole, others)).transpose(1, 0, 2, 3)
        similarity: Singles = product / np.maximum(weight, _NOTHING)
        similarity[weight <= _NOTHING] = 1.0
        return similarity.round(_DIGITS, out=similarity)

    def pairs(self, one: Rows, other: Rows) -> Singles:
        """How alike bars are, pair by pair, [k]; 0 where nothing plays in both."""
        mine, theirs = self.vectors.take(one, axis=0), self.vectors.take(other, axis=0)
        total = np.einsum("ij,ij->i", mine, theirs)
        sounds = np.maximum(self.sounds.take(one, axis=0), self.sounds.take(other, axis=0))
        weight = np.einsum("ij,ij->i", sounds, sounds)
        return np.asarray(np.round(total / np.maximum(weight, _NOTHING), _DIGITS))


def _shared(vectors: Singles, sounds: Singles) -> Singles:
    """What each two bars have in common in some layers, [2, m, m]: how alike what sounds in both
    is, and the weight of what does in either."""
    alone = np.add.reduce(np.square(sounds), axis=1)
    return np.array((vectors @ vectors.T, alone[:, None] + alone - sounds @ sounds.T))
