"""What is true of the song as a whole: what the file states, and what the bass sound is like?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words

_SEMITONE = 100.0  # cents
_BETWEEN = 43.0  # cents off a note from which the one beyond is meant once in ten times
LOOP_TUNED = 0.5  # certainty from which a loop's tuning is judged by: its notes agree on one
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


@reading("song", unit="cents", source="1 cent = 1/100 of an equal-tempered semitone")
def cents_off_loop(chart: Chart) -> Column:
    """How far the bass (its sound, else A = 440 Hz, and bends that hold it) stands off a loop."""
    return _one(abs(_above_loop(chart)[0]))


@reading("song", unit="text")
def loop_way(chart: Chart) -> Column:
    """Which way the bass sound stands off the loop: sharp or flat of it."""
    return _way(_above_loop(chart)[0])


@reading("song", unit="cents", source="1 cent = 1/100 of an equal-tempered semitone")
def cents_off_loop_else(chart: Chart) -> Column:
    """How far it stands off the loop if notes near a quarter tone are meant the other way."""
    return _one(abs(_above_loop(chart)[1]))


@reading("song", unit="text")
def loop_way_else(chart: Chart) -> Column:
    """Which way it stands off the loop then: sharp or flat of it."""
    return _way(_above_loop(chart)[1])


@reading("song", unit="yes or no")
def near_quarter_tone(chart: Chart) -> Column:
    """Does the loop or the bass sound lie near a quarter tone, between two notes?"""
    return np.array([not np.isnan(_above_loop(chart)[1])])


@reading("song", unit="text")
def loop_name(chart: Chart) -> Column:
    """The loop of sound that the bass stands farthest off, by its file."""
    return words([_above_loop(chart)[2] or None])


def _way(apart: float) -> Column:
    return words([None if np.isnan(apart) else "sharp" if apart > 0 else "flat"])


def _above_loop(chart: Chart) -> tuple[float, float, str]:
    """Cents from the loop up to the bass sound, of the loop farthest off, and its name; NaN where
    none is tuned. The second: if notes near a quarter tone are meant the other way, NaN where none
    lie there; the farther of the two.

    Not the nearest way round: a bass 20 cents flat under a loop 40 cents sharp lies 60 cents below
    the note of its name, and 40 cents down it would sound a semitone off.
    """
    cents, sure, names = chart.loop_tuning
    facts = chart.facts
    if not len(cents) or sure.max() < LOOP_TUNED or facts.sound_is_rough:
        return np.nan, np.nan, ""
    sound = facts.sound_cents or 0.0
    apart = sound + _bent(chart) - cents
    other = apart - np.copysign(_SEMITONE, apart)
    between = (np.abs(cents) >= _BETWEEN) | (abs(sound) >= _BETWEEN)
    nearer = between & (np.abs(other) < np.abs(apart))
    apart, other = np.where(nearer, other, apart), np.where(nearer, apart, other)
    row = int(np.where(sure >= LOOP_TUNED, np.abs(apart), -1.0).argmax())
    told = round(float(apart[row]), 1)  # a wheel's step is finer than that
    return told, round(float(other[row]), 1) if between[row] else np.nan, names[row]


def _bent(chart: Chart) -> float:
    """Cents by which pitch bends hold the bass off its keys: the median by sounding time, so that a
    slide or a few bent notes do not count; whole semitones are other notes."""
    bass, heard = chart.bass, chart.sounding
    if not len(bass):
        return 0.0
    semitones = heard.pitch - heard.written - chart.tuning.shift
    cents = _SEMITONE * (semitones - np.rint(semitones))
    order = np.argsort(cents, kind="stable")
    time = np.cumsum((bass.end - bass.start)[order])
    return float(cents[order[np.searchsorted(time, time[-1] / 2)]])


@reading("song", unit="text", source="scientific pitch notation")
def sound_name(chart: Chart) -> Column:
    """The note that the measured bass sound has by itself, such as F#1."""
    pitch = chart.facts.sound_pitch
    return words([None if pitch is None else _named(chart, pitch)])


@reading("song", unit="text", source="scientific pitch notation")
def root_key_name(chart: Chart) -> Column:
    """The key at which the sampler plays the sound at its own pitch; C where none is told."""
    key = chart.facts.root_key
    if chart.facts.sound_pitch is None:
        return words([None])
    return words(["C" if key is None else _named(chart, key)])


@reading("song", unit="text")
def root_key_source(chart: Chart) -> Column:
    """Where the root key comes from: stated, file, default (what is written unasked), unknown."""
    return words([None if chart.tuning.off is None else chart.tuning.source])


@reading("song", unit="semitones")
def sampler_off(chart: Chart) -> Column:
    """How far every note sounds from what is written, octaves aside; with C for an unknown key."""
    off = chart.tuning.off
    return _one(np.nan if off is None else abs(off))


@reading("song", unit="text")
def sampler_off_words(chart: Chart) -> Column:
    """How far and which way every note sounds from what is written, such as “6 semitones down”."""
    apart = chart.tuning.apart
    return words([_far(apart) if apart else None])


@reading("song", unit="text")
def sampler_transpose(chart: Chart) -> Column:
    """By how much to transpose the sampler so that notes sound as written, such as +6."""
    apart = chart.tuning.apart
    return words([None if apart is None else f"{-apart:+d}".replace("-", "−")])


@reading("song", unit="octaves")
def sampler_octaves(chart: Chart) -> Column:
    """How many octaves the sampler moves the whole line out of the register of a bass; else 0."""
    is_known = chart.tuning.off is not None
    return _one(abs(chart.tuning.octaves) if is_known else np.nan)


@reading("song", unit="text")
def sampler_octaves_words(chart: Chart) -> Column:
    """How many octaves and which way the sampler moves the line, such as “2 octaves down”."""
    count = chart.tuning.octaves
    if not count:
        return words([None])
    far = "1 octave" if abs(count) == 1 else f"{abs(count)} octaves"
    return words([f"{far} {'up' if count > 0 else 'down'}"])


@reading("song", unit="text")
def line_fits(chart: Chart) -> Column:
    """Which line the harmony speaks for: written, sounding, other, or unknown if none."""
    return words([None if chart.tuning.off is None else chart.tuning.fits])


@reading("song", unit="text")
def fitting_words(chart: Chart) -> Column:
    """How far from what is written the line fits, such as “3 semitones up”, where that is told."""
    fitting = chart.tuning.fitting
    return words([_far(fitting) if fitting else None])


@reading("song", unit="text", source="scientific pitch notation")
def fitting_key(chart: Chart) -> Column:
    """The root key with which the line fits, such as D#1, where that is told."""
    pitch, fitting = chart.facts.sound_pitch, chart.tuning.fitting
    if pitch is None or fitting is None:
        return words([None])
    return words([_named(chart, pitch - fitting)])


@reading("song", unit="text")
def fitting_transpose(chart: Chart) -> Column:
    """By how much more to transpose the sampler so that the line fits, such as −3."""
    apart, fitting = chart.tuning.apart, chart.tuning.fitting
    if apart is None or fitting is None:
        return words([None])
    return words([f"{fitting - apart:+d}".replace("-", "−")])


def _far(semitones: int) -> str:
    count = "1 semitone" if abs(semitones) == 1 else f"{abs(semitones)} semitones"
    return f"{count} {'up' if semitones > 0 else 'down'}"


def _named(chart: Chart, pitch: float) -> str:
    return chart.note_name(round(pitch), 0)


@reading("song", unit="text")
def cents_way(chart: Chart) -> Column:
    """Which way the measured bass sound is off: sharp or flat."""
    cents = chart.facts.sound_cents
    return words([None if cents is None else "sharp" if cents > 0 else "flat"])
