"""How is a Song handed to people who analyse on with pretty_midi?

pretty_midi reads tempo from the first track alone, drops notes that never end and, when it writes,
sorts the controllers of one tick by number, which puts a bend range before its selector and loses
it. So the Song's own reading is handed over, and bend ranges are laid out to survive a write.
"""

from __future__ import annotations

from math import inf, nextafter
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.smf.scan import META
from basslint.song.arrangement import Song
from basslint.song.bends import hear_bends
from basslint.song.ranges import (
    CONTROLLER,
    PARAMETER_CONTROLLERS,
    RangeStep,
    hear_ranges,
    heard_by,
)
from basslint.theory.general_midi import DRUM_CHANNEL

if TYPE_CHECKING:
    import pretty_midi

_KEY_SIGNATURE = 0x59
_SEMITONES_TOP = 127
# Major tonic of each count of sharps (negative: flats), circle of fifths; RP-001 counts −7..7.
_FIFTH = 7


def to_pretty_midi(song: Song) -> pretty_midi.PrettyMIDI:
    """The song as a `pretty_midi.PrettyMIDI`, every event on its exact tick.

    The resolution is the file's, the tempo map that of all tracks, so ``time_to_tick`` gives the
    song's own ticks back. One instrument per part, in the order of ``song.parts``; a part on
    channel 10 is a drum kit. Meter, key signatures and markers (as text events) come along. Bend
    ranges are written as RPN 0 with the selector one tick earlier than the value (at the start of
    the song: the value one tick later), which survives pretty_midi's sorting. Other registered
    parameters are left out, since that sorting would make them say something else. An MPE part
    comes with its manager channel's bend added in, as far as its own range reaches.

    Raises IndexError for songs of 10 million ticks and more, pretty_midi's own limit.
    """
    import pretty_midi

    result = pretty_midi.PrettyMIDI(resolution=song.division)
    result._tick_scales = [
        (tick, _scale(usec, song.division))
        for tick, usec in zip(song.tempo.tick.tolist(), song.tempo.usec.tolist(), strict=True)
    ]
    result._update_tick_to_time(song.end_tick + 1)
    result.tick_to_time(song.end_tick)  # raises where the song is too long for pretty_midi
    times = song.tempo.seconds
    for tick, numerator, denominator in zip(
        song.grid.change_tick.tolist(),
        song.grid.change_numerator.tolist(),
        song.grid.change_denominator.tolist(),
        strict=True,
    ):
        meter = pretty_midi.TimeSignature(numerator, denominator, times(tick))
        result.time_signature_changes.append(meter)
    for tick, number in _key_signatures(song):
        result.key_signature_changes.append(pretty_midi.KeySignature(number, times(tick)))
    result.text_events = [pretty_midi.Text(m.text, times(m.tick)) for m in song.markers]
    bent = hear_bends(song, tuple(range(len(song.parts))), None)
    ranges = hear_ranges(song, tuple(bent))
    for index, part in enumerate(song.parts):
        instrument = pretty_midi.Instrument(
            part.program or 0, part.channel == DRUM_CHANNEL, part.name
        )
        notes = song.notes_of(index)
        instrument.notes = [
            pretty_midi.Note(velocity, pitch, start, end)
            for velocity, pitch, start, end in zip(
                notes.velocity.tolist(),
                notes.pitch.tolist(),
                times(notes.start).tolist(),
                times(notes.end).tolist(),
                strict=True,
            )
        ]
        _controllers(song, index, instrument)
        if index in bent:
            curve = bent[index]
            steps = ranges[index].steps
            raw = curve.semitones / np.where(curve.range > 0, curve.range, 1.0) * 8192
            value = np.clip(np.rint(raw), -8192, 8191)
            moved = (curve.row >= 0) | (np.diff(value, prepend=0.0) != 0)
            _bends(song, instrument, curve.tick[moved], value[moved])
            for step in steps:
                _range(song, instrument, step)
        result.instruments.append(instrument)
    return result


def _scale(usec: int, division: int) -> float:
    """Seconds per tick, nudged so that pretty_midi's truncating write gives ``usec`` back."""
    scale = usec / 1e6 / division
    while int(6e7 / (60.0 / (scale * division))) < usec:
        scale = nextafter(scale, inf)
    return scale


def _key_signatures(song: Song) -> list[tuple[int, int]]:
    """(tick, pretty_midi key number) of every key signature: major tonics 0–11, minor 12–23."""
    found: list[tuple[int, int]] = []
    for track in song.scan.tracks:
        rows = np.flatnonzero((track.status == META) & (track.data1 == _KEY_SIGNATURE))
        for row in rows.tolist():
            body = song.scan.data[int(track.payload_at[row]) : int(track.stop[row])]
            sharps = int.from_bytes(body[:1], signed=True)
            if len(body) == 2 and -7 <= sharps <= 7 and body[1] <= 1:
                tonic = (sharps * _FIFTH + (9 if body[1] else 0)) % 12
                found.append((int(track.tick[row]), tonic + 12 * body[1]))
    return sorted(found)


def _controllers(song: Song, index: int, instrument: pretty_midi.Instrument) -> None:
    import pretty_midi

    changes, part = song.changes, song.parts[index]
    mine = (changes.kind == CONTROLLER) & (changes.channel == part.channel)
    mine &= ~np.isin(changes.number, PARAMETER_CONTROLLERS)
    found = changes.take(mine)
    found = found.take(heard_by(song, part.track, found))
    instrument.control_changes = [
        pretty_midi.ControlChange(number, value, time)
        for number, value, time in zip(
            found.number.tolist(),
            found.value.tolist(),
            song.tempo.seconds(found.tick).tolist(),
            strict=True,
        )
    ]


def _bends(
    song: Song,
    instrument: pretty_midi.Instrument,
    tick: NDArray[np.int64],
    value: NDArray[np.float64],
) -> None:
    """Add the bend events; of one tick the last, since pretty_midi sorts them by value."""
    import pretty_midi

    last = np.append(tick[1:] != tick[:-1], True)[: len(tick)]
    instrument.pitch_bends = [
        pretty_midi.PitchBend(int(v), t)
        for v, t in zip(value[last].tolist(), song.tempo.seconds(tick[last]).tolist(), strict=True)
    ]


def _range(song: Song, instrument: pretty_midi.Instrument, step: RangeStep) -> None:
    import pretty_midi

    semitones, cents = divmod(round(step.semitones * 100), 100)
    tick = max(step.tick, 1)
    select, enter = song.tempo.seconds(tick - 1), song.tempo.seconds(tick)
    instrument.control_changes += [
        pretty_midi.ControlChange(101, 0, select),
        pretty_midi.ControlChange(100, 0, select),
        pretty_midi.ControlChange(6, min(semitones, _SEMITONES_TOP), enter),
        pretty_midi.ControlChange(38, cents, enter),
        # sorted behind the data by their numbers: nothing is selected from here on
        pretty_midi.ControlChange(100, 127, enter),
        pretty_midi.ControlChange(101, 127, enter),
    ]
