"""What is true of the song as a whole: what the file states, and what the bass sound is like?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words

_RP_001 = "Standard MIDI Files 1.0 (RP-001)"


def _one(value: float) -> Column:
    return np.array([value], dtype=np.float64)


@reading("song", unit="yes or no", source=_RP_001)
def tempo_stated(chart: Chart) -> Column:
    """Does the file state a tempo?"""
    return np.array([chart.song.tempo.stated])


@reading("song", unit="yes or no", source=_RP_001)
def meter_stated(chart: Chart) -> Column:
    """Does the file state a time signature?"""
    return np.array([chart.song.grid.stated])


@reading("song", unit="quarter notes a minute", source=_RP_001)
def tempo(chart: Chart) -> Column:
    """The tempo at the start."""
    return _one(chart.song.tempo.bpm_at(0))


@reading("song", unit="bars")
def bars(chart: Chart) -> Column:
    """How many bars the song has."""
    return _one(chart.song.grid.bars)


@reading("song", unit="notes")
def notes(chart: Chart) -> Column:
    """How many notes the song has."""
    return _one(len(chart.song.notes))


@reading("song", unit="parts")
def bass_parts(chart: Chart) -> Column:
    """How many parts play bass."""
    return _one(len(chart.parts.bass))


@reading("song", unit="cents", source="1 cent = 1/100 of an equal-tempered semitone")
def cents_off(chart: Chart) -> Column:
    """How far the measured bass sound lies from the nearest note, up or down."""
    cents = chart.facts.sound_cents
    return _one(np.nan if cents is None else abs(cents))


@reading("song", unit="text")
def cents_way(chart: Chart) -> Column:
    """Which way the measured bass sound is off: sharp or flat."""
    cents = chart.facts.sound_cents
    return words([None if cents is None else "sharp" if cents > 0 else "flat"])
