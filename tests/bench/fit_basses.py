"""How were the weights of the bass in ``hear/parts/role_scores.py`` fitted?

Run as ``python tests/bench/fit_basses.py FOLDER``, a folder as `labelled_basses` takes it. A
logistic score per pitched line over `bass_evidence`, names and programs hidden. Every song counts
as it is; half as much again without its labelled basses and what doubles them, so that a bass is
not claimed for being the lowest that is left; less with them written an octave high, so that a
walking bass from C3 up is one too, and a semitone off, since a bass with wrong notes must be found
to be judged. A part that doubles a labelled bass counts neither way. Songs that label no bass count
little: most of those that were read have one (a lead, a left hand, a guitar). Prints the weights
fitted on all songs; what they find in songs that they were not fitted on, with the line that
carries the bass chosen as `hear_parts` does; and how often a line of a certainty is a bass.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from labelled_basses import FOLDS, Labelled, hidden, labelled, without
from numpy.typing import NDArray

from basslint.hear.parts import role_scores as own
from basslint.hear.parts.basses import CLAIM, carrier
from basslint.hear.parts.parts import _instruments
from basslint.hear.parts.standing import root_support
from basslint.hear.parts.texture import Texture, hear_texture, lowest_shares
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Song

Floats = NDArray[np.float64]
_MOVED = {"an octave high": 12, "a semitone off": 1}
_KINDS = ("as it is", "without its basses", *_MOVED, "no label")
_WEIGHT = dict(zip(_KINDS, (1.0, 1.5, 0.3, 0.3, 0.3), strict=True))
_SHRINK = 0.05  # ridge on the weights, so that a fold without examples stays finite
_HIGHEST = 127
_BINS = (0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95, 1.0)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Case:
    """One form of a song: evidence of its pitched lines [n], and which are labelled or double."""

    kind: str
    fold: int
    song: Song
    line: NDArray[np.int64]
    texture: Texture
    rows: NDArray[np.intp]
    x: Floats
    bass: NDArray[np.bool_]
    double: NDArray[np.bool_]


def _case(kind: str, fold: int, song: Song, basses: tuple[int, ...], double: object) -> Case:
    group = _instruments(song)
    line, lines = group[song.notes.part], int(group.max()) + 1
    t = hear_texture(end_stuck_notes(song.notes, song.division), line, lines, song.division)
    pitched = own.drums_likelihood(t, own.read_labels(song.parts, group, lines)) < CLAIM
    asked = pitched & own.may_be_bass(t)
    support = root_support(song.notes, line, asked, pitched & ~asked, song.division)
    rows = np.flatnonzero(pitched)
    found = own.bass_evidence(t, pitched, lowest_shares(t, pitched)[1], support)[rows]
    x = np.append(found, np.ones((len(rows), 1)), axis=1)
    is_bass, is_double = (np.isin(rows, group[list(p)]) for p in (basses, double))
    return Case(
        kind=kind,
        fold=fold,
        song=song,
        line=line,
        texture=t,
        rows=rows,
        x=x,
        bass=is_bass,
        double=is_double & ~is_bass,
    )


def _forms(case: Labelled) -> Iterator[Case]:
    song = hidden(case.song)
    both = (*case.basses, *case.doubles)
    if not case.basses:
        yield _case("no label", case.fold, song, (), ())
        return
    yield _case("as it is", case.fold, song, case.basses, case.doubles)
    rest = without(song, both)
    if rest is not None:
        yield _case("without its basses", case.fold, rest, (), ())
    low = np.isin(song.notes.part, both)
    for kind, move in _MOVED.items():
        pitch = song.notes.pitch + np.where(low, move, 0).astype(song.notes.pitch.dtype)
        if pitch.max() <= _HIGHEST:
            moved = replace(song, notes=replace(song.notes, pitch=pitch))
            yield _case(kind, case.fold, moved, case.basses, case.doubles)


def fit(cases: list[Case]) -> Floats:
    """Weights of a logistic regression over the lines of songs, by Newton's method."""
    x = np.concatenate([c.x for c in cases])
    y = np.concatenate([c.bass for c in cases])
    weight = np.concatenate([_WEIGHT[c.kind] * ~c.double for c in cases])
    w = np.zeros(x.shape[1])
    for _ in range(30):
        p = 1.0 / (1.0 + np.exp(-x @ w))
        slope = x.T @ (weight * (y - p)) - _SHRINK * w
        bend = (x * (weight * p * (1.0 - p))[:, None]).T @ x + _SHRINK * np.eye(len(w))
        w += np.linalg.solve(bend, slope)
    return w


def _outcome(case: Case, chance: Floats) -> tuple[bool, bool, bool]:
    """Whether a bass is claimed, is a labelled one, or at least doubles one."""
    if not len(chance) or chance.max() < CLAIM:
        return False, False, False
    by_line = np.zeros(int(case.line.max()) + 1)
    by_line[case.rows] = chance
    lead = case.rows == carrier(
        case.song.notes, case.line, case.texture, by_line, np.zeros(len(by_line), dtype=bool)
    )
    right = bool(case.bass[lead].any())
    return True, right, right or bool(case.double[lead].any())


def main(folder: Path) -> None:
    """Print weights and cross-validated figures."""
    cases = [form for case in labelled(folder) for form in _forms(case)]
    chances: dict[int, Floats] = {}
    for fold in range(FOLDS):
        w = fit([c for c in cases if c.fold != fold])
        for i, c in enumerate(cases):
            if c.fold == fold:
                chances[i] = 1.0 / (1.0 + np.exp(-c.x @ w))
    names = (*own.BASS_EVIDENCE, "base")
    print(", ".join(f"{n} {w:.2f}" for n, w in zip(names, fit(cases), strict=True)))
    for kind in _KINDS:
        rows = [_outcome(c, chances[i]) for i, c in enumerate(cases) if c.kind == kind]
        claimed, right, near = (np.array(column) for column in zip(*rows, strict=True))
        print(
            f"{kind} ({len(rows)} songs): claimed {claimed.mean():.3f}, found {right.mean():.3f}, "
            f"another part {(claimed & ~right).mean():.3f}, "
            f"of which no double {(claimed & ~near).mean():.3f}"
        )
    usual = [i for i, c in enumerate(cases) if c.kind in _KINDS[:2]]
    chance = np.concatenate([chances[i] for i in usual])
    is_bass = np.concatenate([cases[i].bass | cases[i].double for i in usual])
    for low, high in pairwise(_BINS):
        mine = (chance >= low) & (chance < high)
        print(
            f"certainty {low:.2f}-{high:.2f}: {mine.sum()} lines, bass {is_bass[mine].mean():.3f}"
        )


if __name__ == "__main__":
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("songs")
    if not data.is_dir():
        sys.exit(f"No songs at {data}: pass a folder of MIDI files.")
    main(data)
