"""What of an arrangement does the page's roll draw? Columns and lanes as plain data, in ticks.

Nothing is laid out here: the page's script (report/page/roll.js) turns ticks into pixels for the
window that is looked at, so that nothing is rounded before it is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.audition.voices import Tone
from basslint.hear.chart import Chart
from basslint.report.drawing import marks
from basslint.song.timing import TempoMap
from basslint.theory.general_midi import DRUM_NAMES
from basslint.theory.names import key_name
from basslint.util.columns import found_in

_TICK_DIGITS = 3  # of a slide's corner: a thousandth of a tick is less than a sample


def roll_data(chart: Chart, tones: list[Tone], middle_c: int) -> dict[str, Any]:
    """A song as the page's script reads it; JSON values alone.

    ``bars``: runs of (length in ticks, how many); ``meter``: (bar from 0, numerator, denominator);
    ``tempo``: (tick, microseconds a quarter); ``parts``: (name, role); ``notes``: columns ``s``
    (start as the difference to the one before), ``d`` (length), ``p``, ``v``, ``k`` (part), each as
    `_column` writes it;
    ``tones``: see `tones_data`; lanes of (start, end, text, more). ``names``: (tick, the twelve
    note names from there on).
    """
    song, notes = chart.song, chart.song.notes
    lengths = np.diff(song.grid.start)
    grid = song.grid
    return {
        "division": song.division,
        "bars": _runs(lengths),
        "meter": [
            (int(grid.bar_of(int(t))), int(n), int(d))
            for t, n, d in zip(
                grid.change_tick, grid.change_numerator, grid.change_denominator, strict=True
            )
            if t < grid.start[-1]
        ],
        "tempo": np.stack([song.tempo.tick, song.tempo.usec], axis=1).tolist(),
        "parts": [(p.name, chart.parts.role[i]) for i, p in enumerate(song.parts)],
        "notes": {
            "s": _column(np.diff(notes.start, prepend=0)),
            "d": _column(notes.end - notes.start),
            "p": _column(notes.pitch),
            "v": _column(notes.velocity),
            "k": _column(notes.part),
        },
        "tones": tones_data(song.tempo, tones),
        "lanes": _lanes(chart),
        "names": _names(chart),
        "drums": {
            key: DRUM_NAMES[key]
            for key in sorted(set(notes.pitch[found_in(notes.part, chart.parts.drums)].tolist()))
            if key in DRUM_NAMES
        },
        "octave": middle_c - 5,  # of MIDI note 0
    }


def tones_data(tempo: TempoMap, tones: Sequence[Tone]) -> list[list[Any]]:
    """Start, end (ticks), level and pitch of each tone; of one that slides or bends its knots too,
    as ticks and pitches."""
    ends = np.array([(tone.start, tone.end) for tone in tones]).reshape(-1, 2)
    told: list[list[Any]] = []
    for tone, (start, end) in zip(tones, _ticks(tempo, ends).tolist(), strict=True):
        head = [_short(start), _short(end), round(tone.level, 4)]
        if len(tone.pitches) == 1 or not np.ptp(tone.pitches) > 0:
            told.append([*head, round(float(tone.pitches[0]), 4)])
            continue
        # a knot on the straight line between its neighbours says nothing
        keep = np.ones(len(tone.times), dtype=bool)
        keep[1:-1] = (tone.pitches[1:-1] != tone.pitches[:-2]) | (
            tone.pitches[1:-1] != tone.pitches[2:]
        )
        at = [_short(t) for t in _ticks(tempo, tone.times[keep]).tolist()]
        told.append([*head, at, np.round(tone.pitches[keep], 4).tolist()])
    return told


def _column(values: NDArray[np.integer[Any]]) -> str:
    """Numbers from 0 up with commas between them, none where it is the one before."""
    told = list(map(str, values.tolist()))
    for row in (np.diff(values, prepend=-1) == 0).nonzero()[0].tolist():
        told[row] = ""
    return ",".join(told)


def _short(value: float) -> float | int:
    rounded = round(value, _TICK_DIGITS)
    return int(rounded) if rounded == int(rounded) else rounded


def _ticks(tempo: TempoMap, seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ticks with fractions: the inverse of `TempoMap.seconds`."""
    row = np.maximum(np.searchsorted(tempo.elapsed, seconds + 1e-12, side="right") - 1, 0)
    per_tick = tempo.usec[row] / (tempo.division * 1e6)
    ticks: NDArray[np.float64] = tempo.tick[row] + (seconds - tempo.elapsed[row]) / per_tick
    return ticks


def _runs(values: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Equal neighbours as (value, how many)."""
    begins = np.flatnonzero(np.append(True, np.diff(values) != 0))
    counts = np.diff(np.append(begins, len(values)))
    return [(int(v), int(c)) for v, c in zip(values[begins], counts, strict=True)]


def _lanes(chart: Chart) -> dict[str, list[tuple[int, int, str, str]]]:
    """Chords, keys, phrases, fills: (start, end, what is written there, what more is known)."""
    starts, bars = chart.song.grid.start, chart.song.grid.bars
    phrases, fills, roots, keys = chart.phrases, chart.fills, chart.roots, chart.keys
    names = {row: chart.spelling_in(row) for row in range(-1, len(keys.start))}
    return {
        "chord": [
            (
                start,
                end,
                marks.chord_at(roots, i, names[key]),
                marks.certainty(sure, roots.source_name(i)),
            )
            for i, (start, end, sure, key) in enumerate(
                zip(
                    roots.start.tolist(),
                    roots.end.tolist(),
                    roots.certainty.tolist(),
                    chart.key_at(roots.start).tolist(),
                    strict=True,
                )
            )
        ],
        "key": [
            (
                int(keys.start[i]),
                int(keys.end[i]),
                key_name(int(keys.tonic[i]), keys.mode[i]),
                marks.certainty(float(keys.certainty[i]), chart.key_source(i)),
            )
            for i in range(len(keys.start))
        ],
        "phrase": [
            (
                int(starts[int(phrases.start_bar[i])]),
                int(starts[min(int(phrases.end_bar[i]), bars)]),
                phrases.label[i],
                phrases.why[i],
            )
            for i in range(len(phrases.start_bar))
        ],
        "fill": [
            (
                int(fills.start[i]),
                int(fills.end[i]),
                f"{int(fills.hits[i])} × {fills.grid[i]}",
                f"velocity {fills.velocity[i]}",
            )
            for i in range(len(fills.start))
        ],
    }


def _names(chart: Chart) -> list[tuple[int, tuple[str, ...]]]:
    """The note names of each key, from its first tick on."""
    starts = [0, *(int(t) for t in chart.keys.start)]
    return [(t, tuple(chart.spelling_at(t))) for t in dict.fromkeys(starts)]
