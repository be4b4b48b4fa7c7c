"""A note of a file moved by hand, with mido alone, and what a check says of it there."""

from __future__ import annotations

import io

import mido

from basslint.judging.results import FileReport

Place = tuple[int, int, int]  # track, tick, pitch


def moved(data: bytes, note: Place, semitones: int, ticks: int) -> bytes:
    """The file with one note moved; ``note``: where its note-on stands and what it is."""
    midi = mido.MidiFile(file=io.BytesIO(data))
    track = midi.tracks[note[0]]
    timed, now = [], 0
    for message in track:
        now += message.time
        timed.append([now, message.copy(time=0)])
    on = next(
        i
        for i, (tick, m) in enumerate(timed)
        if m.type == "note_on" and m.velocity and (tick, m.note) == note[1:]
    )
    off = next(
        i
        for i in range(on + 1, len(timed))
        if timed[i][1].type in ("note_on", "note_off")
        and timed[i][1].note == note[2]
        and (timed[i][1].type == "note_off" or not timed[i][1].velocity)
    )
    for i in (on, off):
        timed[i] = [timed[i][0] + ticks, timed[i][1].copy(note=note[2] + semitones)]

    empty = timed[on][0] == timed[off][0]

    def order(entry: tuple[int, list]) -> tuple[int, int, int]:
        """Ends before beginnings, but for a note of no length; the end of the track last."""
        row, (tick, m) = entry
        ends = m.type == "note_off" and not (empty and row == off)
        if m.type == "end_of_track":
            return max(t for t, _ in timed), 2, row
        return tick, 0 if ends or not m.type.startswith("note") else 1, row

    track[:] = []
    last = 0
    for _, (tick, message) in sorted(enumerate(timed), key=order):
        tick = max(tick, last)
        track.append(message.copy(time=tick - last))
        last = tick
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


def spoken(report: FileReport, part: int, tick: int, pitch: int) -> set[str]:
    """The rules that speak of a note, as "level name"; ``part`` from 1, ``pitch`` as written. What
    is told of several notes at once names the first one's pitch alone."""
    return {
        f"{f.level} {f.rule}"
        for f in report.findings
        if f.part is not None
        and f.part.number == part
        and f.pitch is not None
        and (f.pitch == pitch or f.also)
        and any(w.tick == tick for w in f.places)
    }
