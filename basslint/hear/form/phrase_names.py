"""What is each phrase called, and what tells that it begins where it does?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import Bars, Floats
from basslint.hear.form.similarity import Similarity
from basslint.util.columns import ends_of, median, rows_where

Names = tuple[tuple[str, ...], tuple[str, ...]]  # labels and reasons, one of each per phrase

_LETTERS = 26  # then A2, B2, …
SAME = 0.7  # bars alike from here on are the same material: the same letter
_BREATH = 0.25  # bars: a shorter wait of the lead is no rest
_SUPPORTED = 1.0  # log weight: repeats make the start e times as likely as it was
_MOST_HEADS = 52  # letters that a phrase is compared with: bounds the cost for very long files


def unnamed() -> Names:
    """Names where there are no phrases."""
    return (), ()


def named(
    bars: Bars,
    begin: NDArray[np.int64],
    support: Floats,
    marked: dict[int, str],
) -> Names:
    """Label and reason of the phrases that begin at rows ``begin`` of ``bars``, see `Phrases`.

    ``support`` [n]: what its repeats add to a start's score; ``marked``: rows where a marker
    stands, with its text.
    """
    end = ends_of(begin, len(bars))
    return _labels(bars, begin, end, marked), _reasons(bars, begin, support, marked)


def _labels(
    bars: Bars,
    begin: NDArray[np.int64],
    end: NDArray[np.int64],
    marked: dict[int, str],
) -> tuple[str, ...]:
    """Name the phrases, see `Phrases.label`."""
    heads = _Heads(Similarity.of(bars, [layer.role for layer in bars.layers]))
    labels: list[str] = []
    played = rows_where(bars.lead) if bars.lead is not None else np.zeros(0, dtype=np.int64)
    section = ""
    for start, stop in zip(begin.tolist(), end.tolist(), strict=True):
        section = marked.get(start, section)
        if section:
            labels.append(section)
        elif len(played) and start == 0 and stop <= played[0]:
            labels.append("intro")
        elif len(played) and stop == len(bars) and start > played[-1]:
            labels.append("outro")
        else:
            labels.append(heads.letter_of(start, stop))
    return tuple(labels)


class _Heads:
    """The first phrase of each letter, ``of`` (first bar, bar after the last, letter), with which
    the others are compared. ``known``: letters by what the bars of phrases hold, as long as there
    are as many heads: of thousands of bars most come again."""

    def __init__(self, similarity: Similarity) -> None:
        self.similarity = similarity
        self.of: list[tuple[int, int, str]] = []
        self.known: dict[bytes, str] = {}

    def letter_of(self, start: int, stop: int) -> str:
        """The letter of the most similar phrase so far, or a new one."""
        content = self.similarity.content(start, stop)
        if content not in self.known:
            letter = self._letter_of(start, stop)
            if letter is None:
                turn, step = divmod(len(self.of), _LETTERS)
                letter = chr(ord("A") + step) + (str(turn + 1) if turn else "")
                self.of.append((start, stop, letter))
                self.known.clear()
            self.known[content] = letter
        return self.known[content]

    def _letter_of(self, start: int, stop: int) -> str | None:
        near: list[tuple[int, str]] = []  # bars in common with a head, and its letter
        mine: list[int] = []
        theirs: list[int] = []
        for head_start, head_stop, letter in self.of[-_MOST_HEADS:]:
            size = min(stop - start, head_stop - head_start)
            if 2 * size >= max(stop - start, head_stop - head_start):
                near.append((size, letter))
                mine += range(start, start + size)
                theirs += range(head_start, head_start + size)
        if not near:
            return None
        size_of = np.array([size for size, _ in near])
        pairs = self.similarity.pairs(np.array(mine), np.array(theirs))
        same = np.add.reduceat(pairs, size_of.cumsum() - size_of) / size_of
        best = int(same.argmax())
        return near[best][1] if same[best] > SAME else None


def _reasons(
    bars: Bars, begin: NDArray[np.int64], support: Floats, marked: dict[int, str]
) -> tuple[str, ...]:
    """The plainest thing that tells each start, see `Phrases.why`."""
    playing = bars.backing if bars.lead is None else np.column_stack((bars.lead, bars.backing))
    enters = np.zeros(len(bars), dtype=bool)
    enters[0] = True
    enters[1:] = (playing[1:] != playing[:-1]).any(axis=1)
    usual_gap = float(median(bars.gap))
    reasons: list[str] = []
    for row in begin.tolist():
        if row in marked:
            reasons.append("marker")
        elif enters[row]:
            reasons.append("entry")
        elif support[row] > _SUPPORTED:
            reasons.append("repetition")
        elif bars.gap[row] > max(usual_gap, _BREATH):
            reasons.append("rest")
        else:
            reasons.append("grid")
    return tuple(reasons)
