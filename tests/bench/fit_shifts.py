"""The weights by which a bass is told to lie off as a whole, in pitch or in time.

``python tests/bench/fit_shifts.py SONGS``: a folder of songs, as `slips.py` reads it. Each bass
part is moved on trial, and a softmax over the trials learns what makes the part as written the best
of them, since finished songs are right. Cross-validated by song in five folds: how often the part
as written wins, the largest leads against it (what a limit must keep out), and how many parts that
were moved would be told at each of some limits. It prints the weights of all songs, which are
copied into `hear/bassline/shift.py` and `displacement.py` by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from real_songs import FOLDS, heard_songs
from scipy.optimize import minimize

from basslint.hear.bassline import displacement, shift
from basslint.hear.chart import Chart
from basslint.song.events import Notes

Floats = NDArray[np.float64]

RIDGE = 0.02  # keeps weights finite where a column tells nothing
FEWEST_NOTES, FEWEST_QUARTERS = 16, 8.0  # of a part under harmony that is learnt from
MOVED = {"bar early": 1, "half early": 2, "quarter early": 3, "half late": 6, "quarter late": 7}
LIMITS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)  # log odds


@dataclass(frozen=True, slots=True)
class Trials:
    """A bass part at all trials, [t, k]; ``moved``: the same of it, moved so that a trial mends it,
    by name, with that trial."""

    fold: int
    song: str
    written: Floats
    moved: Mapping[str, tuple[Floats, int]]


def parts_of(chart: Chart) -> list[Notes]:
    """The notes of each bass part."""
    bass = chart.bass
    return [bass.take(np.flatnonzero(bass.part == part)) for part in np.unique(bass.part)]


def shifted(chart: Chart, fold: int, song: str) -> list[Trials]:
    """Trials in pitch: moved by semitones the columns turn round."""
    row = chart.bass_chords
    root = np.where(row >= 0, np.append(chart.roots.root, -1)[row], -1).astype(np.int64)
    value, weight = shift.fit_of_notes(
        chart.bass, chart.accompaniment, root, chart.song.grid.division
    )
    found = []
    for part in np.unique(chart.bass.part):
        mine = np.flatnonzero((chart.bass.part == part) & (weight > 0))
        if len(mine) < FEWEST_NOTES or weight[mine].sum() < FEWEST_QUARTERS:
            continue
        mean = value[mine].sum(axis=0) / weight[mine].sum()
        first = np.roll(mean, -shift.AS_WRITTEN, axis=0)  # as written stands first
        moved = {f"{by:+d}": (np.roll(first, -by, axis=0), (-by) % 12) for by in (1, -1, 2, -2, 5)}
        found.append(Trials(fold, song, first, moved))
    return found


def displaced(chart: Chart, fold: int, song: str) -> list[Trials]:
    """Trials in time: the part is moved by ticks and asked again."""
    drums = chart.drums
    around = displacement.Surroundings(chart.others, drums, chart.roots, chart.song.grid)
    found = []
    for notes in parts_of(chart) if len(chart.others) else ():
        if len(notes) < FEWEST_NOTES:
            continue
        written, places = displacement.evidence(notes, around)
        moved = {}
        if len(places) < displacement.PLACES:  # in odd meters some places are the same
            continue
        for name, right in MOVED.items():
            by = int(places[right])
            late = Notes(
                start=notes.start - by,
                end=notes.end - by,
                pitch=notes.pitch,
                velocity=notes.velocity,
                part=notes.part,
                on_row=notes.on_row,
                off_row=notes.off_row,
            ).take(notes.start >= by)
            if len(late) >= FEWEST_NOTES:
                moved[name] = (displacement.evidence(late, around)[0], right)
        found.append(Trials(fold, song, written, moved))
    return found


def fitted(trials: list[Trials]) -> Floats:
    """Weights under which the parts as written are likeliest."""
    table = np.stack([t.written for t in trials])

    def cost(weights: Floats) -> float:
        odds = table @ weights
        odds = odds - odds[:, :1]
        return float(np.log(np.exp(odds).sum(axis=1)).sum() + RIDGE * weights @ weights)

    return np.asarray(minimize(cost, np.ones(table.shape[2])).x)


def report(title: str, trials: list[Trials]) -> None:
    """Fit, cross-validate and print."""
    leads: list[tuple[float, str]] = []
    told: dict[str, list[float]] = {}
    for fold in range(FOLDS):
        weights = fitted([t for t in trials if t.fold != fold])
        for t in trials:
            if t.fold != fold:
                continue
            odds = t.written @ weights
            leads.append((float(odds[1:].max() - odds[0]), t.song))
            for name, (table, right) in t.moved.items():
                odds = table @ weights
                best = float(odds[right] - odds[0]) if odds.argmax() == right else -np.inf
                told.setdefault(name, []).append(best)
    leads.sort(reverse=True)
    count = len({t.song for t in trials})
    print(f"{title}: {len(trials)} parts of {count} songs; weights", end=" ")
    print(np.round(fitted(trials), 2).tolist())
    print(f"  as written wins in {np.mean([lead < 0 for lead, _ in leads]):.3f}; largest leads")
    print("   ", ", ".join(f"{lead:.2f} {song}" for lead, song in leads[:8]))
    for limit in LIMITS:
        false = len({song for lead, song in leads if lead >= limit})
        found = ", ".join(f"{k} {np.mean(np.array(v) >= limit):.3f}" for k, v in told.items())
        print(f"  limit {limit}: false in {false / count:.4f} of songs; told {found}")


def main(words: list[str]) -> int:
    """Measure and print."""
    folder = Path(words[0]) if words else Path("songs")
    found: dict[str, list[Trials]] = {"in pitch": [], "in time": []}
    kinds: dict[str, Callable[[Chart, int, str], list[Trials]]] = {
        "in pitch": shifted,
        "in time": displaced,
    }
    for path, fold, chart in heard_songs(folder):
        for kind, of in kinds.items():
            found[kind] += of(chart, fold, path.stem)
    for kind, trials in found.items():
        if trials:
            report(kind, trials)
    return 0 if found["in pitch"] else 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
