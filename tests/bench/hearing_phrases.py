"""How well are phrases heard? Figures on the data set beside the checkout, and on made-up beats.

Run as ``python tests/bench/hearing_phrases.py DATA``. Truth on pop-phrases: the bars at which one
or two people let phrases begin. A song is measured against the nearer of its annotators, the one
with the higher F1. Names are hidden before the tool sees a file. The beats of ``bench.beats`` go
in fours inside their sections (so does the truth: whether in fours or eights cannot be heard in a
loop); their markers are taken out, their tunes leave out two bars now and then by dice.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from time import process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.beat_model import write
from bench.beats import make_beat
from bench.hearing_parts import Row

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.form.hypermeter import four_bar_groups, four_bar_share
from basslint.hear.form.phrases import Phrases, hear_phrases
from basslint.smf.scan import scan
from basslint.song.arrangement import build

_SEED = 1
_DRAWS = 2000
_BEATS = range(1000, 1200)  # seeds apart from those looked at in the making


@dataclass(frozen=True, slots=True)
class Heard:
    """A song's phrases, what people said of it, and the milliseconds that hearing took."""

    phrases: Phrases
    bars: int
    people: tuple[frozenset[int], ...]
    took: float


def f1(told: Iterable[int], truth: Iterable[int]) -> float:
    """2·hits / (told + truth), 1 where both are empty."""
    one, other = set(told), set(truth)
    return 2 * len(one & other) / (len(one) + len(other)) if one or other else 1.0


def nearer(told: Iterable[int], people: Iterable[Iterable[int]]) -> float:
    """F1 against the nearer of the annotators."""
    mine = list(told)
    return max(f1(mine, truth) for truth in people)


def _later(bars: Iterable[int]) -> list[int]:
    return [bar for bar in bars if bar > 0]


def _hear(raw: bytes) -> tuple[Phrases, float]:
    chart = Chart(build(scan(raw)), Facts())
    parts = chart.parts
    begin = process_time()
    hear_phrases(chart.song, parts)
    took = process_time() - begin
    return chart.phrases, took * 1000


def hear_all(data: Path) -> list[Heard]:
    """Every song of pop-phrases, names hidden."""
    result = []
    for path in sorted((data / "pop-phrases").glob("*.mid")):
        raw = path.read_bytes().replace(b"melody", b"part 1").replace(b"chords", b"part 2")
        truth = json.loads(path.with_suffix(".json").read_text())
        people = tuple(frozenset(bar for bar, _ in one) for one in truth["annotators"])
        phrases, took = _hear(raw)
        result.append(Heard(phrases, truth["bars"], people, took))
    return result


def _row(what: str, songs: int, figure: Callable[[np.ndarray], float], target: str = "") -> Row:
    """A figure of chosen songs (indexes), with its 95 % song-bootstrap interval."""
    rng = np.random.default_rng(_SEED)
    draws = [figure(rng.integers(0, songs, songs)) for _ in range(_DRAWS)]
    low, high = np.percentile(draws, [2.5, 97.5])
    return Row(what, figure(np.arange(songs)), songs, float(low), float(high), target)


def _mean(what: str, values: list[float], target: str = "") -> Row:
    column = np.array(values)
    return _row(what, len(column), lambda rows: float(column[rows].mean()), target)


def starts(songs: list[Heard]) -> list[Row]:
    """Phrase starts at the exact bar."""
    told = [s.phrases.start_bar.tolist() for s in songs]
    pairs = [s.people for s in songs if len(s.people) == 2]
    later = [
        nearer(_later(t), [_later(p) for p in s.people]) for t, s in zip(told, songs, strict=True)
    ]
    everyone = [
        float(np.mean([f1(t, p) for p in s.people])) for t, s in zip(told, songs, strict=True)
    ]
    grid = [nearer(range(0, s.bars, 4), s.people) for s in songs]
    return [
        _mean(
            "phrase starts, F1, nearer annotator",
            [nearer(t, s.people) for t, s in zip(told, songs, strict=True)],
            "≥ .55, stretch .70",
        ),
        _mean("  the same without the song's first bar", later),
        _mean("  the same, mean of the annotators", everyone),
        _mean("  for comparison: four-bar grid from bar 1", grid),
        _mean("  for comparison: one annotator by the other", [f1(*pair) for pair in pairs]),
        _mean("milliseconds of processor time", [s.took for s in songs], "< 10"),
    ]


def certainty(songs: list[Heard]) -> list[Row]:
    """Of the starts told with certainty c (without the first bar), which share is right?"""
    column: list[tuple[int, float, float]] = []
    for row, song in enumerate(songs):
        told = song.phrases.start_bar.tolist()
        best = max(song.people, key=lambda p, told=told: f1(told, p))
        sure = song.phrases.certainty.tolist()
        column += [(row, c, float(b in best)) for b, c in list(zip(told, sure, strict=True))[1:]]
    song_of, sure, right = (np.array(c) for c in zip(*column, strict=True))
    tenth = np.minimum((sure * 10).astype(int), 9)

    def distance(rows: np.ndarray) -> float:
        weight = np.bincount(rows, minlength=len(songs))[song_of].astype(float)
        total = 0.0
        for bin_ in range(10):
            mine = weight * (tenth == bin_)
            total += abs(float((mine * (sure - right)).sum()))
        return total / float(weight.sum())

    rows = [_row("certainty of starts, mean distance in ten bins", len(songs), distance, "≤ .05")]
    for bin_ in np.unique(tenth).tolist():
        mine = tenth == bin_
        what = f"  certainty .{bin_}: right (mean certainty {sure[mine].mean():.3f})"
        rows.append(_mean(what, right[mine].tolist()))
    return rows


def _lines(phrases: Phrases) -> set[int]:
    """Bars at which fours are told to begin, and the one after the last."""
    share = four_bar_share(phrases)
    begin, end = (column.tolist() for column in four_bar_groups(phrases, share))
    return {b for a, e in zip(begin, end, strict=True) for b in (*range(a, e, 4), e)}


def fours(songs: list[Heard]) -> list[Row]:
    """Of the ends of four bars given a share s (`four_bar_share`), which share is on true fours?"""
    column: list[tuple[int, float, float]] = []
    found: list[float] = []
    for row, song in enumerate(songs):
        phrases = song.phrases
        told = phrases.start_bar.tolist()
        truth = sorted(max(song.people, key=lambda p, told=told: f1(told, p)))
        right = {b for a, e in zip(truth, [*truth[1:], song.bars], strict=True)
                 for b in range(a, e, 4)} | {song.bars}  # fmt: skip
        share = four_bar_share(phrases)
        lines = _lines(phrases)
        inner = sorted(lines - {told[0], int(phrases.end_bar[-1])})
        column += [(row, float(share[b]), float(b in right)) for b in inner]
        known = right - {told[0], int(phrases.end_bar[-1])}
        found.append(len(known & lines) / max(len(known), 1))
    _, share, right = (np.array(c) for c in zip(*column, strict=True))
    rows = [_mean(f"ends of four bars told ({len(share):,}): on true fours", right.tolist())]
    rows.append(_mean("  of the true fours, told", found))
    for low in (0.35, 0.5, 0.7, 0.9):
        high = {0.35: 0.5, 0.5: 0.7, 0.7: 0.9, 0.9: 1.01}[low]
        mine = (share >= low) & (share < high)
        what = f"  share {low} to {min(high, 1)}: right (mean share {share[mine].mean():.3f})"
        rows.append(_mean(what, right[mine].tolist()))
    return rows


def beats(seeds: Iterable[int] = _BEATS) -> list[Row]:
    """Made-up beats without their markers: starts on a section's four-bar grid, sections found."""
    on_grid: list[float] = []
    sure_on_grid: list[float] = []
    sections: list[float] = []
    fours_right: list[float] = []
    for seed in seeds:
        beat = make_beat(seed)
        phrases, _ = _hear(write(replace(beat, markers=())).data)
        truth = beat.truth.phrases
        begins = [
            bar
            for (bar, _, label), before in zip(truth, [("",) * 3, *truth], strict=False)
            if label != before[2]
        ]
        ends = [*begins[1:], beat.bars]
        fours = {bar for a, b in zip(begins, ends, strict=True) for bar in range(a, b, 4)}
        lines = _lines(phrases) - {beat.bars}
        fours_right.append(len(lines & fours) / len(lines))
        told = phrases.start_bar.tolist()
        hits = [float(bar in fours) for bar in told]
        on_grid.append(float(np.mean(hits)))
        sure = [h for h, c in zip(hits, phrases.certainty.tolist(), strict=True) if c >= 0.9]
        sure_on_grid.append(float(np.mean(sure)))
        sections.append(float(np.mean([bar in told for bar in begins])))
    return [
        _mean("beats: starts on the section's four-bar grid", on_grid),
        _mean("  of those told with certainty .9 and more", sure_on_grid),
        _mean("beats: fours told that are the section's", fours_right),
        _mean("beats: sections found at the exact bar", sections),
    ]


def rows(data: Path) -> list[Row]:
    """All figures of phrase hearing."""
    songs = hear_all(data)
    return [*starts(songs), *certainty(songs), *fours(songs), *beats()]


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("../shared/data")
    if not folder.is_dir():
        sys.exit(f"No data at {folder}: pass the folder that holds pop-phrases.")
    for line in rows(folder):
        interval = f"{line.low:.3f}–{line.high:.3f}"
        print(f"{line.what:60} {line.value:7.3f}  {interval:13} n={line.songs:<5} {line.target}")
