"""How were the weights of the bass in ``hear/parts/role_scores.py`` fitted?

Run as ``python tests/bench/fit_basses.py FOLDER``, a folder as `labelled_basses` takes it. A
logistic score per pitched line, names and programs hidden; every song counts as it is and, half as
much, without its labelled basses and what doubles them, so that a bass is not claimed for being the
lowest that is left. The more that counts, the fewer are claimed there and the fewer are found:
counted once .885 are found and .09 claimed, counted twice .86 and .07. Prints the weights fitted on
all songs, and what they find in songs that they were not fitted on.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from labelled_basses import FOLDS, hidden, labelled, without
from numpy.typing import NDArray

from basslint.hear.parts import role_scores as own
from basslint.hear.parts.parts import CLAIM, _instruments
from basslint.hear.parts.texture import hear_texture, lowest_shares
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Song

Floats = NDArray[np.float64]
_NAMES = ("high", "voices", "active", "lowest", "slow", "deep", "base")
_WITHOUT, _UNLABELLED = 0.5, 0.3  # weight of a song without its basses, and of one that names none
_SHRINK = 0.01  # ridge on the weights, so that a fold without examples stays finite


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Pitched lines [n]: features, whether labelled a bass or doubling one, song, fold, weight."""

    x: Floats
    bass: NDArray[np.bool_]
    double: NDArray[np.bool_]
    song: NDArray[np.int64]
    fold: NDArray[np.int64]
    weight: Floats
    whole: NDArray[np.bool_]


def features(song: Song) -> tuple[Floats, NDArray[np.intp], NDArray[np.int64]]:
    """Features of the pitched lines, their numbers, and the line of each part."""
    group = _instruments(song)
    line, lines = group[song.notes.part], int(group.max()) + 1
    t = hear_texture(end_stuck_notes(song.notes, song.division), line, lines, song.division)
    pitched = own.drums_likelihood(t, own.read_labels(song.parts, group, lines)) < 0.5
    count, lowest = int(pitched.sum()), lowest_shares(t, pitched)
    slow = np.clip(np.log2(np.maximum(t.pace, 1e-6)), own._SLOWEST, 0.0)
    deep = np.zeros(lines)
    if 1 < count <= own._MANY_LINES:
        deep[own._deep(t, pitched, lowest)] = 1.0
    columns = (
        np.maximum(t.mean - own.BASS_REGISTER, 0.0),
        t.voices,
        np.log(t.active + own._LITTLE),
        lowest * (count > 1),
        slow * (count > own._MANY_LINES),
        deep,
        np.ones(lines),
    )
    rows = np.flatnonzero(pitched)
    return np.stack(columns, axis=1)[rows], rows, group


def gather(folder: Path) -> Lines:
    """The lines of all songs of a folder, with and without their labelled basses."""
    parts: list[tuple[Floats, ...]] = []
    for case in labelled(folder):
        bare = hidden(case.song)
        rest = without(bare, (*case.basses, *case.doubles)) if case.basses else None
        for song, whole in ((bare, True), (rest, False)):
            if song is None:
                continue
            x, rows, group = features(song)
            bass, double = (
                np.isin(rows, group[list(p)]) if whole else np.zeros(len(rows), dtype=bool)
                for p in (case.basses, case.doubles)
            )
            weight = 1.0 if case.basses else _UNLABELLED
            n = np.ones(len(rows))
            number = 2 * len(parts) * n
            labels = case.fold * n, (weight if whole else _WITHOUT) * n
            parts.append((x, bass, double & ~bass, number, *labels, n * (whole and weight == 1.0)))
    x, bass, double, song_, fold, weight_, whole_ = (
        np.concatenate(c) for c in zip(*parts, strict=True)
    )
    weight_ = np.where(double, 0.0, weight_)
    return Lines(x, bass > 0, double > 0, song_.astype(int), fold.astype(int), weight_, whole_ > 0)


def fit(x: Floats, y: NDArray[np.bool_], weight: Floats) -> Floats:
    """Weights of a logistic regression, by Newton's method."""
    w = np.zeros(x.shape[1])
    for _ in range(30):
        p = 1.0 / (1.0 + np.exp(-x @ w))
        slope = x.T @ (weight * (y - p)) - _SHRINK * w
        bend = (x * (weight * p * (1.0 - p))[:, None]).T @ x + _SHRINK * np.eye(len(w))
        w += np.linalg.solve(bend, slope)
    return w


def main(folder: Path) -> None:
    """Print weights and cross-validated figures."""
    lines = gather(folder)
    chance = np.zeros(len(lines.bass))
    for fold in range(FOLDS):
        held = lines.fold == fold
        w = fit(lines.x[~held], lines.bass[~held], lines.weight[~held])
        chance[held] = 1.0 / (1.0 + np.exp(-lines.x[held] @ w))
    weights = fit(lines.x, lines.bass, lines.weight)
    print(", ".join(f"{n} {w:.2f}" for n, w in zip(_NAMES, weights, strict=True)))
    order = np.lexsort((-chance, lines.song))
    first = order[np.append(True, np.diff(lines.song[order]) != 0)]
    claimed, whole = chance[first] >= CLAIM, lines.whole[first]
    right, double = lines.bass[first], lines.double[first]
    songs, bare = int(whole.sum()), int((~whole).sum())
    print(
        f"of {songs} songs: found {(claimed & right)[whole].mean():.3f}, another part taken for it"
    )
    wrong = claimed & ~right
    print(f"  {wrong[whole].mean():.3f}, doubles left out {(wrong & ~double)[whole].mean():.3f};")
    print(f"claimed in {claimed[~whole].mean():.3f} of {bare} songs without a labelled bass")


if __name__ == "__main__":
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("songs")
    if not data.is_dir():
        sys.exit(f"No songs at {data}: pass a folder of MIDI files.")
    main(data)
