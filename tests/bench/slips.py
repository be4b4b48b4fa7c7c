"""Fit the weights of the evidence for a slip on real songs, and say how well they tell one.

``python tests/bench/slips.py SONGS [--write]``. SONGS is a folder of ``<source>/<file>.mid`` with
real arrangements, never copied here; where it holds a ``songs.csv``, its column ``path`` names the
files to use and ``song`` which of them are copies of one song. Notes as written are taken as meant.
Faults are put in where the notes alone show that one would be a fault: a bass note whose pitch
class others play is moved a semitone to one that nobody plays then, alone, with its repeats in the
bar, or all of its kind (a figure). Five folds by song: each is scored by weights fitted on the
others. The chances are calibrated on those scores for `slip_fit.PRIOR` slips per 100 bars.
``--write`` writes `basslint/readings/slip_weights.py`.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from real_songs import FOLDS, heard, songs
from slip_faults import Places, lone_faults, pasted_faults
from slip_fit import Told, borne_out, calibrated, chance_at, fitted

from basslint.hear.chart import Chart
from basslint.readings import slip, slip_weights
from basslint.readings.notes import bar_and_place
from basslint.readings.recurrence import figures
from basslint.readings.rub_habit import foreign_rubs, kinds_elsewhere
from basslint.readings.turns import roots_of_degree, roots_of_riff, tones_that_turn

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

RATES = (0.05, 0.1, 0.15, 0.2, 0.3, 0.5)  # false alarms per 100 bars at which recall is told
SEED = 11
# of the weight of all rows that faults have while fitting: small, so that the fit is best where
# alarms are rare; figures are fewer than notes
SHARE_OF_NOTES, SHARE_OF_FIGURES = 0.002, 0.02


@dataclass(slots=True)
class Measured:
    """What one song gives: evidence as written [m, k], and with faults put in."""

    fold: int
    bars: int
    alarm: NDArray[np.int64]  # notes of one alarm share a number, [m]
    lone: Floats
    figure: Floats
    clear: list[Floats] = field(default_factory=list)  # lone faults under clear harmony
    loose: list[Floats] = field(default_factory=list)  # … under less, with repeats
    wide: list[Floats] = field(
        default_factory=list
    )  # … under clear harmony, by more than a semitone
    pasted: list[Floats] = field(default_factory=list)  # figures, each with all its rows


def measure(path: Path, fold: int, rng: np.random.Generator) -> Measured | None:
    """Evidence of a song; None where it cannot be read or no bass is heard."""
    chart = heard(path)
    if chart is None:
        return None
    bar, _ = bar_and_place(chart, chart.bass.start, 4)
    result = Measured(
        fold,
        chart.song.grid.bars,
        bar * 12 + chart.bass.pitch % 12,
        slip.lone_evidence(chart),
        slip.figure_evidence(chart)[figures(chart).bars >= slip.FEWEST_BARS],
    )
    places = Places.of(chart)
    for strict, wide, into in (
        (True, False, result.clear),
        (False, False, result.loose),
        (True, True, result.wide),
    ):
        for changed, rows in lone_faults(places, strict, wide, rng):
            into.append(one_at_a_time(chart, changed, rows))
    for changed, rows in pasted_faults(places, rng):
        found = figures(changed)
        of, count = np.unique(found.of[rows], return_counts=True)
        of = of[(of >= 0) & (count >= 3)]
        result.pasted.append(slip.figure_evidence(changed)[of[found.bars[of] >= slip.FEWEST_BARS]])
    return result


def one_at_a_time(chart: Chart, changed: Chart, rows: Rows) -> Floats:
    """Evidence of lone faults, which are put in several at a time to save some, as that of one at a
    time: they make no habit of each other, beyond what the song has as written."""
    evidence = slip.lone_evidence(changed)[rows].copy()
    names = [name for name, *_ in slip_weights.LONE.weights]
    meant_so = changed.bass.pitch == chart.bass.pitch
    for name, habit, counted in (
        ("rubs_elsewhere", kinds_elsewhere, foreign_rubs(changed) & meant_so),
        ("turns_alike", tones_that_turn, meant_so),
        ("riff_elsewhere", roots_of_riff, meant_so),
        ("degree_elsewhere", roots_of_degree, meant_so),
    ):
        if name in names:
            value = np.asarray(habit(changed, counted)[rows], dtype=float)
            evidence[:, names.index(name)] = slip.EVIDENCE[name].scaled(value)
    return evidence


def _best(score: Floats, alarm: NDArray[np.int64]) -> Floats:
    _, number = np.unique(alarm, return_inverse=True)
    best = np.full(number.max() + 1, -np.inf)
    np.maximum.at(best, number, score)
    return best


def lone_told(data: list[Measured]) -> Told:
    """The lone note, each fold scored by the others' weights."""
    alarms, faults = [], {"clear": [], "loose": [], "wide": []}
    for fold in range(FOLDS):
        train, test = _split(data, fold)
        intercept, weights = fitted(*_lone(train), SHARE_OF_NOTES)
        for song in test:
            alarms.append(_best(intercept + song.lone @ weights, song.alarm))
            faults["clear"] += [intercept + x @ weights for x in song.clear]
            faults["loose"] += [intercept + x @ weights for x in song.loose]
            faults["wide"] += [intercept + x @ weights for x in song.wide]
    return _told(data, alarms, faults)


def figure_told(data: list[Measured]) -> Told:
    """The figure that returns, each fold scored by the others' weights."""
    alarms, faults = [], {"pasted": []}
    for fold in range(FOLDS):
        train, test = _split(data, fold)
        intercept, weights = fitted(*_figure(train), SHARE_OF_FIGURES)
        for song in test:
            alarms.append(intercept + song.figure @ weights)
            for x in song.pasted:
                best = (intercept + x @ weights).max() if len(x) else -np.inf
                faults["pasted"].append(np.array([best]))
    return _told(data, alarms, faults)


def _told(data: list[Measured], alarms: list[Floats], faults: dict[str, list[Floats]]) -> Told:
    return Told(
        sum(s.bars for s in data),
        np.concatenate(alarms),
        {kind: np.concatenate(scores) for kind, scores in faults.items()},
    )


def _split(data: list[Measured], fold: int) -> tuple[list[Measured], list[Measured]]:
    return [s for s in data if s.fold != fold], [s for s in data if s.fold == fold]


def _lone(data: list[Measured]) -> tuple[Floats, Floats]:
    return np.concatenate([s.lone for s in data]), np.concatenate(
        [x for s in data for x in (*s.clear, *s.loose, *s.wide)]
    )


def _figure(data: list[Measured]) -> tuple[Floats, Floats]:
    return np.concatenate([s.figure for s in data]), np.concatenate(
        [x for s in data for x in s.pasted if len(x)]
    )


def table(
    name: str, model: slip_weights.Model, intercept: float, weights: Floats, usual: Floats
) -> str:
    """The model as Python."""
    lines = "".join(
        f'        ("{evidence}", {weight:.3f}, {mean:.3f}),\n'
        for (evidence, *_), weight, mean in zip(model.weights, weights, usual, strict=True)
    )
    return f"{name} = Model(\n    {intercept:.3f},\n    (\n{lines}    ),\n)\n"


def weighed(data: list[Measured]) -> tuple[list[str], list[str]]:
    """What both models reach, in lines, and their tables as Python."""
    bars, notes = sum(s.bars for s in data), sum(len(s.lone) for s in data)
    said = [f"{len(data)} songs, {bars:,} bars, {notes:,} bass notes"]
    tables = []
    for name, model, told, both, share in (
        ("LONE", slip_weights.LONE, lone_told(data), _lone(data), SHARE_OF_NOTES),
        ("FIGURE", slip_weights.FIGURE, figure_told(data), _figure(data), SHARE_OF_FIGURES),
    ):
        factor, shift = calibrated(told)
        for rate in RATES:
            found = ", ".join(f"{kind} {share:.2f}" for kind, share in told.recall(rate).items())
            at = chance_at(told, rate, factor, shift)
            said.append(f"{name} at {rate} per 100 bars (chance {at:.2f}): {found}")
        said += [f"{name} {line}" for line in borne_out(told, factor, shift)]
        intercept, weights = fitted(*both, share)
        log_odds = factor * intercept + shift
        tables.append(table(name, model, log_odds, factor * weights, both[0].mean(axis=0)))
    return said, tables


def main(words: list[str]) -> int:
    """Measure, print, and write where asked."""
    folder = Path(words[0]) if words else Path("songs")
    data = []
    for number, (path, fold) in enumerate(songs(folder)):
        found = measure(path, fold, np.random.default_rng([SEED, number]))
        if found is not None:
            data.append(found)
    if not data:
        print(f"{folder} holds no songs with a bass: nothing was measured.")
        return 2
    said, tables = weighed(data)
    print("\n".join(said))
    print("\n".join(tables))
    if "--write" in words:
        _write(said, tables)
    return 0


def _write(said: list[str], tables: list[str]) -> None:
    path = Path(slip_weights.__file__)
    head = path.read_text(encoding="utf-8").split("# Measured", 1)[0].split("LONE = ", 1)[0]
    comment = "".join(f"# {line}\n" for line in ["Measured, cross-validated by song:", *said])
    path.write_text(head.rstrip() + "\n\n\n" + comment + "\n".join(tables), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
