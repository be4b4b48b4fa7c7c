"""Does the page say of a nudged note what a check of the nudged file says?

Run by hand: `PYTHONPATH=.:tests python -m bench.nudges`. 200 moves of notes that are found
fault with in the samples and in the examples of all rules, drawn by a seed; mido nudges each file.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
from beats import report as judged
from nudged_by_hand import moved, spoken

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.mending.nudged import SEMITONES, SIXTEENTHS, note_of, nudge_to
from basslint.readings.slip import slip_chance
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat

CASES, SEED = 200, 24
SAMPLES = Path(__file__).parents[2] / "samples"
BOOK = read_book()


def songs() -> list[tuple[str, bytes, Facts]]:
    """(name, bytes, facts) of all samples and flagged examples."""
    found = [(p.stem, p.read_bytes(), Facts(decay_s=1.5)) for p in sorted(SAMPLES.glob("*.mid"))]
    for rule in BOOK:
        beats = [compile_beat(e.text) for e in rule.examples if e.flagged]
        found += [(rule.name, beat.data, beat.facts) for beat in beats]
    return found


def main() -> int:
    """Print how many verdicts of nudged notes are those of a check, and each that is not."""
    rng = np.random.default_rng(SEED)
    places = []
    for name, data, facts in songs():
        report = judged(data, facts, BOOK)
        for finding in report.findings:
            note = note_of(report.chart, finding)
            if note is not None:
                places.append((name, data, facts, report.chart, finding, note))
    right = tried = refused = slips = 0
    while tried < CASES:
        name, data, facts, chart, finding, note = places[rng.integers(len(places))]
        semitones, sixteenths = int(rng.choice(SEMITONES)), int(rng.choice(SIXTEENTHS))
        nudge = nudge_to(chart, note, semitones, sixteenths, BOOK)
        if nudge is None:
            refused += 1
            continue
        notes, ticks = chart.song.notes, sixteenths * (chart.song.division // 4)
        place = (finding.part.track, int(notes.start[note]), int(notes.pitch[note]))
        report = judged(moved(data, place, semitones, ticks), facts, BOOK)
        at = place[1] + ticks, place[2] + semitones
        found = spoken(report, finding.part.number, *at)
        said = {f"{level} {rule}" for rule, level in nudge.spoken}
        tried += 1
        slips += _same(nudge.chance, slip_there(report.chart, finding.part.number - 1, *at))
        right += said == found
        if said != found:
            print(f"{name} {place} {semitones:+} {sixteenths:+}: {sorted(said)}, {sorted(found)}")
    print(f"{right} of {tried} verdicts are those of a check; {refused} moves cannot be written")
    print(f"{slips} of {tried} chances of a slip are those of a check")
    return int(min(right, slips) < tried)


def slip_there(chart: Chart, part: int, tick: int, pitch: int) -> float:
    """The chance of a slip of a bass note of a checked song, NaN where it is heard as no bass."""
    notes = chart.song.notes.take(chart.bass_rows)
    at = (notes.part == part) & (notes.start == tick) & (notes.pitch == pitch)
    return float(slip_chance(chart)[at][0]) if at.any() else math.nan


def _same(one: float, other: float) -> bool:
    return math.isclose(one, other, abs_tol=1e-9) or (math.isnan(one) and math.isnan(other))


if __name__ == "__main__":
    sys.exit(main())
