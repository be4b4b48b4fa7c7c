"""How is a Song handed to people who analyse on with pretty_midi?

pretty_midi reads tempo from the first track alone, drops notes that never end and, when it writes,
sorts the controllers of one tick by number, which puts a bend range before its selector and loses
it. So the Song's own reading is handed over, and bend ranges are laid out to survive a write.
"""

from __future__ import annotations

from math import inf, nextafter
from typing import TYPE_CHECKING

import numpy as np

from basslint.smf.scan import META
from basslint.smf.status import CONTROLLER
from basslint.song.arrangement import Song
from basslint.song.bends import HALF, BendCurve, hear_bends
from basslint.song.metas import KEY_SIGNATURE, key_signature
from basslint.song.ranges import PARAMETER_CONTROLLERS, RangeStep, hear_ranges, heard_by
from basslint.theory.general_midi import DRUM_CHANNEL
from basslint.theory.scales import MODE_STEPS
from basslint.util.columns import found_in

if TYPE_CHECKING:
    import pretty_midi

_SEMITONES_TOP = 127
_FIFTH = 7  # semitones from the major tonic of a count of sharps to that of one more


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
    _tempo(song, result)
    _texts_and_signatures(song, result)
    bent = hear_bends(song, tuple(range(len(song.parts))), None)
    ranges = hear_ranges(song, tuple(bent))
    for index, part in enumerate(song.parts):
        drums = part.channel == DRUM_CHANNEL
        instrument = pretty_midi.Instrument(part.program or 0, drums, part.name)
        instrument.notes = _notes(song, index)
        _controllers(song, index, instrument)
        if index in bent:
            _bends(song, instrument, bent[index])
            for step in ranges[index].steps:
                _range(song, instrument, step)
        result.instruments.append(instrument)
    return result


def _tempo(song: Song, result: pretty_midi.PrettyMIDI) -> None:
    """Give the tempo map of all tracks to ``result``, which reads that of the first alone."""
    result._tick_scales = [
        (tick, _scale(usec, song.division))
        for tick, usec in zip(song.tempo.tick.tolist(), song.tempo.usec.tolist(), strict=True)
    ]
    result._update_tick_to_time(song.end_tick + 1)
    result.tick_to_time(song.end_tick)  # raises where the song is too long for pretty_midi


def _texts_and_signatures(song: Song, result: pretty_midi.PrettyMIDI) -> None:
    """Give the meters, key signatures and markers to ``result``."""
    import pretty_midi

    times, grid = song.tempo.seconds, song.grid
    columns = (grid.change_tick, grid.change_numerator, grid.change_denominator)
    result.time_signature_changes += [
        pretty_midi.TimeSignature(numerator, denominator, times(tick))
        for tick, numerator, denominator in zip(*(c.tolist() for c in columns), strict=True)
    ]
    result.key_signature_changes += [
        pretty_midi.KeySignature(number, times(tick)) for tick, number in _key_signatures(song)
    ]
    result.text_events = [pretty_midi.Text(m.text, times(m.tick)) for m in song.markers]


def _notes(song: Song, index: int) -> list[pretty_midi.Note]:
    import pretty_midi

    notes, times = song.notes_of(index), song.tempo.seconds
    columns = (notes.velocity, notes.pitch, times(notes.start), times(notes.end))
    return [pretty_midi.Note(*row) for row in zip(*(c.tolist() for c in columns), strict=True)]


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
        rows = ((track.status == META) & (track.data1 == KEY_SIGNATURE)).nonzero()[0]
        for row in rows.tolist():
            body = song.scan.data[int(track.payload_at[row]) : int(track.stop[row])]
            signature = key_signature(body)
            if signature is not None:
                sharps, minor = signature
                tonic = (sharps * _FIFTH + MODE_STEPS["minor" if minor else "major"]) % 12
                found.append((int(track.tick[row]), tonic + 12 * minor))
    return sorted(found)


def _controllers(song: Song, index: int, instrument: pretty_midi.Instrument) -> None:
    import pretty_midi

    changes, part = song.changes, song.parts[index]
    mine = (changes.kind == CONTROLLER) & (changes.channel == part.channel)
    mine &= ~found_in(changes.number, PARAMETER_CONTROLLERS)
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


def _bends(song: Song, instrument: pretty_midi.Instrument, curve: BendCurve) -> None:
    """Add the bend events; of one tick the last, since pretty_midi sorts them by value."""
    import pretty_midi

    raw = curve.semitones / np.where(curve.range > 0, curve.range, 1.0) * HALF
    value = np.clip(np.rint(raw), -HALF, HALF - 1)
    moved = (curve.row >= 0) | (np.diff(value, prepend=0.0) != 0)
    tick, value = curve.tick[moved], value[moved]
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
