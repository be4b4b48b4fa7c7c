"""Habits of a line, counted note by note by their definition, on lines that dice draw.

A slow count over all pairs of notes is held against the columns.
"""

from __future__ import annotations

from collections import defaultdict
from random import Random

import pytest
from beats import heard

from basslint.readings.turns import degree_elsewhere, riff_elsewhere, turns_alike

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*{}\n"
ROOTS = (9, 5, 0, 7)  # of the bars, over and over: A, F, C, G
TONES = ("A1", "F1", "C2", "G1", "B1", "F#1")
BEAT, BEATS = 480, 4

Note = tuple[int, int]  # beat of the song, pitch class
Turn = tuple[int, int | None, int | None]  # beat of the bar, semitones from and to


def drawn(seed: int, bars: int = 8) -> tuple[str, list[Note]]:
    """A line of quarters on a few tones, with rests, as text and as notes."""
    dice = Random(seed)
    classes = {"A1": 9, "F1": 5, "C2": 0, "G1": 7, "B1": 11, "F#1": 6}
    line, notes = [], []
    for bar in range(bars):
        tokens = [dice.choice([*TONES[: 2 + seed], "."]) for _ in range(BEATS)]
        tokens = ["."] * BEATS if bar == 5 else tokens
        notes += [(bar * BEATS + i, classes[t]) for i, t in enumerate(tokens) if t != "."]
        line.append(" ".join(f"{t}:1" for t in tokens))
    return f"sub | {' | '.join(line)} |\n", notes


def turn_of(notes: list[Note], row: int) -> Turn:
    """Its beat of the bar and the ways from the note before and to the one after, None by rests."""

    def way(first: int, second: int) -> int | None:
        if first < 0 or second >= len(notes) or notes[second][0] - notes[first][0] > 3:
            return None
        return (notes[second][1] - notes[first][1]) % 12

    return notes[row][0] % BEATS, way(row - 1, row), way(row, row + 1)


def others(groups: list[object], values: list[int]) -> list[int]:
    """For each row, how many values but its own the rows of its group have."""
    found = defaultdict(set)
    for group, value in zip(groups, values, strict=True):
        found[group].add(value)
    return [len(found[group]) - 1 for group in groups]


@pytest.mark.parametrize("seed", range(5))
def test_the_columns_count_as_the_words_say(seed: int) -> None:
    text, notes = drawn(seed)
    chart = heard(KEYS.format(2) + text)
    assert (chart.bass.start // BEAT).tolist() == [beat for beat, _ in notes]
    turns = [turn_of(notes, row) for row in range(len(notes))]
    tones = [tone for _, tone in notes]
    roots = [ROOTS[beat // BEATS % 4] for beat, _ in notes]
    alike = others([*turns], tones)
    stays = [before in (0, None) and after in (0, None) for _, before, after in turns]
    assert turns_alike(chart).tolist() == [
        0 if stay else count for stay, count in zip(stays, alike, strict=True)
    ]
    riffs: list[object] = [(*turn, tone) for turn, tone in zip(turns, tones, strict=True)]
    assert riff_elsewhere(chart).tolist() == others(riffs, roots)
    degrees: list[object] = [
        (beat % BEATS, (tone - root) % 12) for (beat, tone), root in zip(notes, roots, strict=True)
    ]
    assert degree_elsewhere(chart).tolist() == others(degrees, roots)
