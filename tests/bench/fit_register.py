"""The weights by which a bass is told to lie an octave too high or too low as a whole.

``python tests/bench/fit_register.py SONGS…``: folders of songs, as `slips.py` reads them. The
lowest bass part of each song as written is held against all of it an octave up, and down. Cross-
validated by song in five folds: how many are told at a limit that so many songs as written pass. It
prints the weights of all songs, which are copied into `hear/bassline/register.py` by hand, with the
chance at each limit by those weights.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from real_songs import FOLDS, heard_songs
from scipy.optimize import minimize

from basslint.hear.bassline import register
from basslint.hear.chart import Chart
from basslint.util.records import replace

Floats = NDArray[np.float64]

RIDGE = 2.0  # keeps weights finite where a column tells nothing
PASSES = (1, 2, 3, 4, 6, 8, 12, 16)  # songs as written that may be told


@dataclass(frozen=True, slots=True)
class Trial:
    """A bass part as written and moved by an octave: evidence for too high and for too low."""

    fold: int
    song: str
    own: bool
    high: tuple[Floats, Floats]
    low: tuple[Floats, Floats]


def trial(chart: Chart, fold: int, song: str) -> Trial | None:
    """The lowest part of a song's basses; None where it has too few notes."""
    bass = chart.bass
    lines = [bass.take(np.flatnonzero(bass.part == part)) for part in np.unique(bass.part)]
    line = min(lines, key=lambda notes: np.quantile(notes.pitch, 0.05))
    if len(line) < register.FEWEST:
        return None
    part = chart.song.parts[int(line.part[0])]
    up = replace(line, pitch=line.pitch + np.int16(12))
    down = np.maximum(line.pitch - np.int16(12), 0)
    return Trial(
        fold,
        song,
        register.has_own_register(part.program, part.name),
        (register.high_evidence(line, chart.others), register.high_evidence(up, chart.others)),
        (register.low_evidence(line.pitch), register.low_evidence(down)),
    )


def fitted(written: Floats, moved: Floats) -> Floats:
    """Intercept and weights of a logistic model that tells the two apart."""
    rows = np.concatenate((written, moved))
    is_moved = np.repeat((0.0, 1.0), (len(written), len(moved)))
    middle, scale = rows.mean(axis=0), rows.std(axis=0)
    table = np.column_stack((np.ones(len(rows)), (rows - middle) / scale))

    def cost(weights: Floats) -> float:
        odds = table @ weights
        loss = np.logaddexp(0.0, odds) - is_moved * odds
        return float(loss.sum() + RIDGE * weights[1:] @ weights[1:])

    found = np.asarray(minimize(cost, np.zeros(table.shape[1])).x)
    slopes = found[1:] / scale
    return np.concatenate(([found[0] - slopes @ middle], slopes))


def report(title: str, pairs: list[tuple[Floats, Floats]], folds: NDArray[np.int64]) -> None:
    """Fit, cross-validate and print."""
    written, moved = (np.stack([pair[k] for pair in pairs]) for k in (0, 1))
    right, wrong = np.zeros(len(pairs)), np.zeros(len(pairs))
    for fold in range(FOLDS):
        learnt = folds != fold
        weights = fitted(written[learnt], moved[learnt])
        for odds, rows in ((right, written), (wrong, moved)):
            odds[~learnt] = weights[0] + rows[~learnt] @ weights[1:]
    weights = fitted(written, moved)
    print(f"{title}: {len(pairs)} songs; weights {np.round(weights, 3).tolist()}")
    by_all = np.sort(weights[0] + written @ weights[1:])[::-1]
    limits = np.sort(right)[::-1]
    for most in PASSES:
        chance = 1.0 / (1.0 + np.exp(-by_all[most]))
        told = float((wrong > limits[most]).mean())
        print(
            f"  {most} as written ({most / len(pairs):.4f}), chance {chance:.3f}: told {told:.3f}"
        )


def main(words: list[str]) -> int:
    """Measure and print."""
    trials = [
        found
        for folder in words or ["songs"]
        for path, fold, chart in heard_songs(Path(folder))
        if (found := trial(chart, fold, path.stem)) is not None
    ]
    if not trials:
        return 2
    asked = [t for t in trials if not t.own]
    report("too high", [t.high for t in asked], np.array([t.fold for t in asked]))
    report("too low", [t.low for t in trials], np.array([t.fold for t in trials]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
