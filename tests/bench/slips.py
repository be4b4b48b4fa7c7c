"""Fit the weights of the evidence for a slip on real songs, and say how well they tell one.

``python tests/bench/slips.py SONGS [--write]``. SONGS is a folder of ``<source>/<file>.mid`` with
real arrangements, never copied here; where it holds a ``songs.csv``, its column ``path`` names the
files to use and ``song`` which of them are copies of one song. Notes as written are taken as meant.
Faults are put in where the notes alone show that one would be a fault: a bass note whose pitch
class others play is moved a semitone to one that nobody plays then, alone, with its repeats in the
bar, or all of its kind (a figure). Five folds by song: each is scored by weights fitted on the
others. The chances are calibrated on those scores for `PRIOR` slips per 100 bars. ``--write``
writes `basslint/readings/slip_weights.py`.
"""

from __future__ import annotations

import csv
import hashlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.readings import slip, slip_weights
from basslint.readings.notes import bar_and_place, length, stand
from basslint.readings.recurrence import figures
from basslint.readings.rub_habit import foreign_rubs, kinds_elsewhere, share_on_place
from basslint.readings.turns import roots_of_degree, roots_of_riff, tones_that_turn
from basslint.smf.scan import scan
from basslint.song.arrangement import build

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

FOLDS = 5
PRIOR = 1.0  # slips per 100 bars that the chances assume: a beat before export, not a finished one
RATES = (0.05, 0.1, 0.15, 0.2, 0.3, 0.5)  # false alarms per 100 bars at which recall is told
BINS = (0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)  # chances that are held against what came true
WIDE = (-5, -4, -3, -2, 2, 3, 4, 5)
SEED = 11
ROUNDS, AT_ONCE, KINDS = 4, 6, 3  # lots of lone faults a song, faults in each; figures a song
RIDGE = 1.0  # keeps weights small where evidence overlaps
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


def songs(folder: Path) -> Iterator[tuple[Path, int]]:
    """The files and the fold of each; copies of one song share a fold."""
    listed = folder / "songs.csv"
    if listed.exists():
        with listed.open(encoding="utf-8") as lines:
            named = [(folder / row["path"], row["song"]) for row in csv.DictReader(lines)]
    else:
        named = [(path, path.stem) for path in sorted(folder.rglob("*.mid"))]
    for path, song in named:
        yield path, hashlib.sha256(song.encode()).digest()[0] % FOLDS


def heard(path: Path) -> Chart | None:
    """The chart of a song; None where it cannot be read or no bass is heard."""
    try:
        chart = Chart(build(scan(path.read_bytes())), Facts(), str(path))
        return chart if chart.parts.bass and len(chart.bass) else None
    except (OSError, BasslintError):
        return None


def heard_songs(folder: Path, step: int = 1) -> Iterator[tuple[Path, int, Chart]]:
    """Every ``step``-th song that can be read and has a bass, with its fold and its chart."""
    for path, fold in list(songs(folder))[::step]:
        if (chart := heard(path)) is not None:
            yield path, fold, chart


def moved(chart: Chart, rows: Rows, semitones: int) -> Chart:
    """The chart with some bass notes moved; harmony and key do not change with them."""
    pitch = chart.song.notes.pitch.copy()
    pitch[chart.bass_rows[rows]] += np.int16(semitones)
    song = replace(chart.song, notes=replace(chart.song.notes, pitch=pitch))
    changed = Chart(song, chart.facts, chart.path).with_parts_of(chart).with_roots_of(chart)
    changed.keys = chart.keys
    return changed


@dataclass(frozen=True, slots=True)
class Places:
    """Bass notes that may be moved by a semitone, and whereto."""

    chart: Chart
    clear: NDArray[np.bool_]
    loose: NDArray[np.bool_]
    common: NDArray[np.bool_]  # [12]: the file's seven commonest pitch classes

    @classmethod
    def of(cls, chart: Chart) -> Places:
        """Places where the notes around show that a semitone beside would be wrong."""
        around = chart.accompaniment
        own = around.at(0, chart.bass.pitch.astype(np.int64))
        tones = (around.share > 0.3).sum(axis=1)
        clear = (length(chart) >= 0.9) & (own >= 0.5) & (tones >= 3)
        loose = (stand(chart) >= 0.45) & (own >= 0.4) & (tones >= 2)
        time = np.bincount(
            chart.pitched.pitch % 12, weights=chart.pitched.end - chart.pitched.start, minlength=12
        )
        common = np.zeros(12, dtype=bool)
        common[np.argsort(-time)[:7]] = True
        return cls(chart, clear, loose, common)

    def ways(self, row: int, strict: bool, wide: bool = False) -> list[int]:
        """Semitones (1, −1; ``wide``: 2 to 5 up or down) to a pitch class that nobody sounds."""
        tone = int(self.chart.bass.pitch[row]) % 12
        return [
            way
            for way in (WIDE if wide else (1, -1))
            if self.chart.accompaniment.share[row, (tone + way) % 12] <= 0
            and not (strict and self.common[(tone + way) % 12])
        ]


def lone_faults(
    places: Places, strict: bool, wide: bool, rng: np.random.Generator
) -> Iterator[tuple[Chart, Rows]]:
    """The chart with some lone notes moved, and their rows, again and again."""
    chart = places.chart
    rows = np.flatnonzero(places.clear if strict else places.loose)
    rows = np.array([r for r in rows if places.ways(int(r), strict, wide)], dtype=np.intp)
    if not len(rows):
        return
    bar, _ = bar_and_place(chart, chart.bass.start, 4)
    for _ in range(ROUNDS):
        pick = rng.choice(rows, min(AT_ONCE, len(rows)), replace=False)
        pick = pick[np.unique(bar[pick], return_index=True)[1]]
        way = int(rng.choice(WIDE if wide else (1, -1)))
        pick = np.array(
            [r for r in pick if way in places.ways(int(r), strict, wide)], dtype=np.intp
        )
        if not len(pick):
            continue
        all_rows = pick
        if not strict and rng.random() < 0.7:  # with its repeats in the bar
            bass = chart.bass
            alike = [
                np.flatnonzero(
                    (bar == bar[r]) & (bass.pitch == bass.pitch[r]) & (bass.part == bass.part[r])
                )
                for r in pick
            ]
            all_rows = np.unique(np.concatenate(alike))
        yield moved(chart, all_rows, way), pick


def pasted_faults(places: Places, rng: np.random.Generator) -> Iterator[tuple[Chart, Rows]]:
    """The chart with every note of a pitch class under like harmony moved, four at least."""
    chart, sounds = places.chart, places.chart.accompaniment.share > 0.3
    tone = chart.bass.pitch % 12
    for base, strict in ((places.clear, True), (places.loose, False)):
        rows = rng.permutation(np.flatnonzero(base))
        done = 0
        for row in rows[:40].tolist():
            for way in places.ways(row, strict)[:1]:
                like = base & (tone == tone[row]) & ((sounds ^ sounds[row]).sum(axis=1) <= 1)
                same = [r for r in np.flatnonzero(like).tolist() if way in places.ways(r, strict)]
                if len(same) >= 4:
                    yield moved(chart, np.array(same), way), np.array(same)
                    done += 1
            if done == KINDS:
                break


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
            into.append(one_at_a_time(chart, changed, rows, result.lone))
    for changed, rows in pasted_faults(places, rng):
        found = figures(changed)
        of, count = np.unique(found.of[rows], return_counts=True)
        of = of[(of >= 0) & (count >= 3)]
        result.pasted.append(slip.figure_evidence(changed)[of[found.bars[of] >= slip.FEWEST_BARS]])
    return result


def one_at_a_time(chart: Chart, changed: Chart, rows: Rows, meant: Floats) -> Floats:
    """Evidence of lone faults, which are put in several at a time to save some, as that of one at a
    time: they make no habit of each other, beyond what the song has as written."""
    evidence = slip.lone_evidence(changed)[rows].copy()
    names = [name for name, *_ in slip_weights.LONE.weights]
    if "led_alike" in names:
        most = meant[:, names.index("led_alike")].max()
        most = np.log2(1 + 2**most) if most > 0 else 0.0
        led = evidence[:, names.index("led_alike")]
        evidence[:, names.index("led_alike")] = np.minimum(led, most)
    meant_so = changed.bass.pitch == chart.bass.pitch
    for name, habit, counted in (
        ("rubs_elsewhere", kinds_elsewhere, foreign_rubs(changed) & meant_so),
        ("rubs_on_place", share_on_place, foreign_rubs(changed) & meant_so),
        ("turns_alike", tones_that_turn, meant_so),
        ("riff_elsewhere", roots_of_riff, meant_so),
        ("degree_elsewhere", roots_of_degree, meant_so),
    ):
        if name in names:
            value = np.asarray(habit(changed, counted)[rows], dtype=float)
            evidence[:, names.index(name)] = slip.EVIDENCE[name].scaled(value)
    return evidence


def fitted(meant: Floats, faults: Floats, share: float) -> tuple[float, Floats]:
    """Intercept and weights of a ridge-penalised logistic regression (Newton's method)."""
    x = np.concatenate((meant, faults))
    y = np.concatenate((np.zeros(len(meant)), np.ones(len(faults))))
    size = np.concatenate(
        (np.ones(len(meant)), np.full(len(faults), share * len(meant) / len(faults)))
    )
    middle, spread = meant.mean(axis=0), meant.std(axis=0) + 1e-9
    z = np.column_stack((np.ones(len(x)), (x - middle) / spread))
    w = np.zeros(z.shape[1])
    penalty = RIDGE * np.diag([0.0, *np.ones(x.shape[1])])
    for _ in range(30):
        p = 1 / (1 + np.exp(-np.clip(z @ w, -30, 30)))
        slope = z.T @ (size * (y - p)) - penalty @ w
        bend = (z * (size * p * (1 - p))[:, None]).T @ z + penalty
        step = np.linalg.solve(bend, slope)
        w += step
        if np.abs(step).max() < 1e-6:
            break
    weights = w[1:] / spread
    return float(w[0] - weights @ middle), weights


@dataclass(frozen=True, slots=True)
class Told:
    """Cross-validated scores: of alarms as written, and of the faults of each kind."""

    bars: int
    alarms: Floats
    faults: dict[str, Floats]

    def recall(self, rate: float) -> dict[str, float]:
        """Share of each kind of fault that scores above ``rate`` false alarms per 100 bars."""
        least = np.sort(self.alarms)[::-1][min(int(rate * self.bars / 100), len(self.alarms) - 1)]
        return {kind: float((score > least).mean()) for kind, score in self.faults.items()}


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


def calibrated(told: Told) -> tuple[float, float]:
    """Factor and shift of a score that make of it log odds at `PRIOR` slips per 100 bars."""
    faults = np.concatenate([x[np.isfinite(x)] for x in told.faults.values()])
    x = np.concatenate((told.alarms, faults))
    y = np.concatenate((np.zeros(len(told.alarms)), np.ones(len(faults))))
    size = np.where(y > 0, PRIOR * told.bars / 100 / len(faults), 1.0)
    near = x > np.quantile(told.alarms, 0.9)  # the tail is what rules act on
    x, y, size = x[near], y[near], size[near]
    w = np.zeros(2)
    z = np.column_stack((np.ones(len(x)), x - x.mean()))
    for _ in range(200):
        p = 1 / (1 + np.exp(-np.clip(z @ w, -30, 30)))
        bend = (z * (size * p * (1 - p))[:, None]).T @ z + 1e-6 * np.eye(2)
        step = np.linalg.solve(bend, z.T @ (size * (y - p)))
        w += step * min(1.0, 1.0 / np.abs(step).max())  # damped: far from the answer it overshoots
    return float(w[1]), float(w[0] - w[1] * x.mean())


def chance_at(told: Told, rate: float, factor: float, shift: float) -> float:
    """The calibrated chance at so many false alarms per 100 bars."""
    least = np.sort(told.alarms)[::-1][int(rate * told.bars / 100)]
    return float(1 / (1 + np.exp(-(factor * least + shift))))


def borne_out(told: Told, factor: float, shift: float) -> list[str]:
    """How often chances come true: those said, and the share of slips among them, at `PRIOR`."""
    faults = np.concatenate([x[np.isfinite(x)] for x in told.faults.values()])
    score = np.concatenate((told.alarms, faults))
    slip_is = np.concatenate((np.zeros(len(told.alarms)), np.ones(len(faults))))
    size = np.where(slip_is > 0, PRIOR * told.bars / 100 / len(faults), 1.0)
    chance = 1 / (1 + np.exp(-(factor * score + shift)))
    lines = []
    for low, high in pairwise(BINS):
        inside = (chance >= low) & (chance < high)
        said = np.average(chance[inside], weights=size[inside])
        true = np.average(slip_is[inside], weights=size[inside])
        lines.append(f"chances of {low} to {high}, {said:.2f} on average, came true in {true:.2f}")
    return lines


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
