"""Put slips into real songs: lone notes, and whole figures, moved where that would be a fault.

A bass note whose pitch class others play is moved to one that nobody plays then.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.notes import bar_and_place, length, stand

Rows = NDArray[np.intp]

WIDE = (-5, -4, -3, -2, 2, 3, 4, 5)  # semitones of a slip that is no neighbour
ROUNDS, AT_ONCE, KINDS = 4, 6, 3  # lots of lone faults a song, faults in each; figures a song


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
