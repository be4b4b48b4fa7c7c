"""What is true of a bass part that plays in another key than the others?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.theory.names import key_name, spelling
from basslint.theory.scales import SCALES, parent_major

_PER_CENT = 100.0
_HALF = 6  # semitones: of two ways round the octave the shorter one is told


@reading("part-key", unit="text")
def keyed_part(chart: Chart) -> Column:
    """The name of the part."""
    return words([chart.song.parts[p].name for p in chart.two_keys.part.tolist()])


@reading("part-key", unit="text")
def part_key(chart: Chart) -> Column:
    """The key that the part plays in."""
    found = chart.two_keys
    return words([key_name(t, m) for t, m in zip(found.tonic.tolist(), found.mode, strict=True)])


@reading("part-key", unit="text")
def their_key(chart: Chart) -> Column:
    """The key that the others play in."""
    found = chart.two_keys
    pairs = zip(found.their_tonic.tolist(), found.their_mode, strict=True)
    return words([key_name(tonic, mode) for tonic, mode in pairs])


@reading("part-key", unit="%")
def foreign_percent(chart: Chart) -> Column:
    """How much of the part's time is foreign to the others' key, and sounded by nobody else."""
    return np.round(_PER_CENT * chart.two_keys.share)


@reading("part-key", unit="text", source="harmony, common practice: degrees of the scale")
def agreement(chart: Chart) -> Column:
    """What would make the two agree, as a sentence: its tones in their mode, or a shift."""
    return words([_agreement(chart, row) for row in range(len(chart.two_keys.part))])


def moves_to_agree(chart: Chart, row: int) -> dict[int, int]:
    """Semitones by which each pitch class of the part moves to be in the others' key.

    Where both keys stand on one tonic, its tones go to the same degrees of the others' mode; else
    all of them move by the shift between the two scales.
    """
    found = chart.two_keys
    tonic, theirs = int(found.tonic[row]), int(found.their_tonic[row])
    own, other = found.mode[row], found.their_mode[row]
    if tonic == theirs:
        degrees = zip(SCALES[own], SCALES[other], strict=True)
        return {(tonic + a) % 12: b - a for a, b in degrees if a != b}
    way = (parent_major(theirs, other) - parent_major(tonic, own)) % 12
    way -= 12 if way > _HALF else 0
    return dict.fromkeys(range(12), way)


def _agreement(chart: Chart, row: int) -> str:
    found, moves = chart.two_keys, moves_to_agree(chart, row)
    if len(moves) == len(range(12)):
        way = f"{moves[0]:+d}".replace("-", "−")
        return f"Moved by {way} all of it would be in theirs."
    own = spelling(int(found.tonic[row]), found.mode[row])
    other = spelling(int(found.their_tonic[row]), found.their_mode[row])
    mine = chart.bass.pitch[chart.bass.part == found.part[row]] % 12
    played = [tone for tone in moves if (mine == tone).any()]
    each = [f"{other[(tone + moves[tone]) % 12]} for {own[tone]}" for tone in played]
    named = " and ".join(filter(None, (", ".join(each[:-1]), each[-1])))
    return f"In theirs it would have {named}."
