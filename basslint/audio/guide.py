"""The roots of a loop as a MIDI file to play along with: what a bass may follow.

Common practice: a guide track of roots in the octave of the bass, under the sample.
"""

from __future__ import annotations

import io

import mido

from basslint.audio.answers import loop_roots
from basslint.audio.loop import TICKS, HeardLoop

_LOWEST = 28  # E1, the lowest of a bass guitar: every root has one place in the octave above
_VELOCITY = 96
_FINGERED_BASS = 33  # General MIDI program, from 0


def guide_midi(heard: HeardLoop) -> bytes:
    """A Standard MIDI File with tempo, meter and one part: the roots where they are told."""
    bars = heard.bars
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("set_tempo", tempo=round(60e6 / bars.bpm)))
    head.append(
        mido.MetaMessage("time_signature", numerator=bars.meter[0], denominator=bars.meter[1])
    )
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name="Roots"))
    track.append(mido.Message("program_change", program=_FINGERED_BASS))
    roots, now = loop_roots(heard), 0
    for row, root in enumerate(roots.root.tolist()):
        if root < 0:
            continue
        pitch = _LOWEST + (root - _LOWEST) % 12
        start, end = int(roots.start[row]), int(roots.end[row])
        track.append(mido.Message("note_on", note=pitch, velocity=_VELOCITY, time=start - now))
        track.append(mido.Message("note_off", note=pitch, time=end - start))
        now = end
    track.append(mido.MetaMessage("end_of_track", time=int(heard.grid.start[-1]) - now))
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    song.tracks += [head, track]
    out = io.BytesIO()
    song.save(file=out)
    return out.getvalue()
