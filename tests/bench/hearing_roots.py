"""How well are roots and keys heard, and is the certainty true? Figures on pop-chords.

Run as ``python tests/bench/hearing_roots.py DATA [STEP]`` (every STEP-th song). The tool sees the
piano's notes, meter and tempo; chord track and key events are stripped.

How the weights in ``hear/chords.py`` and ``hear/roots.py`` came about: maximum conditional
likelihood of the roots (a conditional random field) on each half of the songs, every song with all
notes and from G3 up, with and without transcription faults; the mean of both fits, rounded, with
the preference for bar lines and against seldom chords weakened so that music of faster harmony is
heard as well (chorales: tests/outside). Each half measured with the weights of the other half came
within .005 of its figure with the final weights.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from chord_labels import Ints, Labelled, labelled_songs
from hearing_parts import Row, _row
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.harmony.roots import CERTAIN, Roots
from basslint.hear.key.keys import Keys

_VARIANTS = {
    "all": ("all notes", "≥ .93"),
    "up": ("notes from G3 up", "≥ .80"),
    "faults": ("all notes, transcription faults", "within .05"),
    "faults up": ("notes from G3 up, transcription faults", ""),
}
_WRONG = {"pedal": None, "true roots + 1": 1, "true roots + 2": 2, "true roots + 6": 6}
_MINOR_THIRD = ("minor", "dorian", "phrygian", "locrian")


def hear(song: Labelled, notes: Ints, bass: Ints | None = None) -> Chart:
    """The chart with the piano stated as the harmony, and the added bass, if any, as the bass."""
    stated = Facts(harmony=("#1",), bass=() if bass is None else ("#2",))
    return Chart(song.song(notes, bass), stated)


def overlaps(song: Labelled, roots: Roots) -> NDArray[np.float64]:
    """Pieces of labelled time [k, 4]: certainty, whether right, ticks, whether told at all."""
    pieces = [np.zeros((0, 4))]
    for start, end, root in zip(song.start, song.end, song.root, strict=True):
        ticks = np.minimum(roots.end, end) - np.maximum(roots.start, start)
        rows = np.flatnonzero(ticks > 0)
        told = roots.root[rows] >= 0
        right = roots.root[rows] == root
        piece = np.stack((roots.certainty[rows], right, ticks[rows], told), axis=1)
        missing = (end - start) - ticks[rows].sum()
        pieces += [piece.astype(float), np.array([[0.0, 0.0, missing, 0.0]])]
    return np.concatenate(pieces)


def share_right(pieces: NDArray[np.float64]) -> float:
    """Share of the labelled time whose root was heard right."""
    return float((pieces[:, 1] * pieces[:, 2]).sum() / pieces[:, 2].sum())


def calibration(pieces: NDArray[np.float64]) -> float:
    """Mean distance of certainty and share right over ten bins, weighted by time."""
    pieces = pieces[pieces[:, 3] > 0]
    certainty, right, ticks, _ = pieces.T
    place = np.minimum((certainty * 10).astype(int), 9)
    said = np.bincount(place, certainty * ticks, minlength=10)
    was = np.bincount(place, right * ticks, minlength=10)
    return float(np.abs(said - was).sum() / ticks.sum())


def root_rows(songs: list[Labelled]) -> Iterator[Row]:
    """Accuracy, calibration, and what rules would act on, per kind of notes."""
    for variant, (name, target) in _VARIANTS.items():
        heard = [overlaps(s, hear(s, s.variant(variant)).roots) for s in songs]
        yield _row(f"root per time, {name}", [share_right(p) for p in heard], target)
        yield _pooled(f"certainty off by, {name}", heard, calibration, "≤ .05")
        acted = [p[p[:, 0] >= CERTAIN] for p in heard]
        goal = {"all": "≥ .97", "up": "≥ .93"}.get(variant, "")
        yield _pooled(f"right where certainty ≥ {CERTAIN}, {name}", acted, share_right, goal)
        judged = [float(a[:, 2].sum() / p[:, 2].sum()) for a, p in zip(acted, heard, strict=True)]
        yield _row(f"time judged at certainty ≥ {CERTAIN}, {name}", judged)


def wrong_bass_rows(songs: list[Labelled]) -> Iterator[Row]:
    """What a bass that plays wrong changes: nothing may."""
    plain = [share_right(overlaps(s, hear(s, s.notes).roots)) for s in songs]
    for name, shift in _WRONG.items():
        changes = []
        for song, without in zip(songs, plain, strict=True):
            pitch = 28 + (song.root + (shift or 0)) % 12 if shift else np.full(len(song.root), 30)
            loud = np.full(len(pitch), 100)
            bass = np.stack((song.start, song.end, pitch, loud), axis=1)
            roots = hear(song, song.notes, bass).roots
            changes.append(share_right(overlaps(song, roots)) - without)
        yield _row(f"root, change by a wrong bass: {name}", changes, "within .005")


def key_rows(songs: list[Labelled]) -> Iterator[Row]:
    """Exact key and signature where the song has one key; share of time right where it has more."""
    for variant in ("all", "up"):
        name, _ = _VARIANTS[variant]
        exact, signature, moving = [], [], []
        for song in songs:
            if not song.keys:
                continue
            keys = hear(song, song.variant(variant)).keys
            if len({key[1:] for key in song.keys}) > 1:
                moving.append(_share_in_key(song, keys))
                continue
            _, tonic, minor = song.keys[0]
            heard = _main_key(keys)
            exact.append(float(heard == (tonic, minor)))
            signature.append(float(_scale(*heard) == _scale(tonic, minor)))
        yield _row(f"key exact, single-key songs, {name}", exact, "≥ .89")
        yield _row(f"key signature, single-key songs, {name}", signature, "≥ .96")
        yield _row(f"time in the right key, songs with key changes, {name}", moving, "≥ .80")


def _scale(tonic: int, minor: bool) -> int:
    return (tonic + 3 * minor) % 12


def _main_key(keys: Keys) -> tuple[int, bool]:
    """The key that lasts longest."""
    time: dict[tuple[int, bool], int] = {}
    for row in range(len(keys)):
        key = int(keys.tonic[row]), keys.mode[row] in _MINOR_THIRD
        time[key] = time.get(key, 0) + int(keys.end[row] - keys.start[row])
    return max(time, key=lambda key: time[key])


def _share_in_key(song: Labelled, keys: Keys) -> float:
    begin = [0, *(tick for tick, _, _ in song.keys[1:])]
    right = 0
    for place, (_, tonic, minor) in enumerate(song.keys):
        until = begin[place + 1] if place + 1 < len(begin) else int(keys.end[-1])
        for row in range(len(keys)):
            if (int(keys.tonic[row]), keys.mode[row] in _MINOR_THIRD) == (tonic, minor):
                ticks = min(until, int(keys.end[row])) - max(begin[place], int(keys.start[row]))
                right += max(ticks, 0)
    return right / int(keys.end[-1])


def _pooled(what: str, heard: list[NDArray[np.float64]], figure: object, target: str) -> Row:
    """A figure of all songs together, with a bootstrap over songs."""
    assert callable(figure)
    rng = np.random.default_rng(1)
    draws = [
        figure(np.concatenate([heard[i] for i in rng.integers(0, len(heard), len(heard))]))
        for _ in range(200)
    ]
    low, high = np.percentile(draws, [2.5, 97.5])
    return Row(what, figure(np.concatenate(heard)), len(heard), float(low), float(high), target)


def rows(data: Path, step: int = 1) -> list[Row]:
    """All figures of roots, keys and certainty."""
    songs = list(labelled_songs(data, step))
    return [*root_rows(songs), *wrong_bass_rows(songs[::6]), *key_rows(songs)]


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("../shared/data")
    if not folder.is_dir():
        sys.exit(f"No data at {folder}: pass the folder that holds pop-chords.")
    for row in rows(folder, int(sys.argv[2]) if len(sys.argv) > 2 else 1):
        interval = f"{row.low:.3f}–{row.high:.3f}"
        print(f"{row.what:72} {row.value:7.3f}  {interval:13} n={row.songs:<4} {row.target}")
