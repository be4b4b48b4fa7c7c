"""Songs, stubbed hearing and hand-made findings for the tests of the reports.

Reports lay out what they are given, so what is heard is set by hand here: the files under
tests/golden then change only when a layout does.
"""

from __future__ import annotations

import io
from types import SimpleNamespace
from typing import Any

import mido
import numpy as np
from made_roots import made_roots

from basslint.fixes.edits import Edit, Fix
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.key.keys import Keys
from basslint.judging.messages import places
from basslint.judging.results import FileReport, Finding, PartRef, Problem, Report, Unjudged
from basslint.smf.scan import scan
from basslint.song.arrangement import build

DIVISION = 480
BAR = 4 * DIVISION
E1, FS1, G1, A1, E2 = 28, 30, 31, 33, 40
BASS, CHANNEL_BASS = 2, 2  # track and channel (from 1) of the part "Sub"

Note = tuple[float, float, int, int]  # beat from 0, length in beats, pitch, velocity


def midi_bytes(
    bass: list[Note],
    bars: int = 16,
    bends: list[tuple[float, int]] = (),  # type: ignore[assignment]
    bass_name: str = "Sub",
) -> bytes:
    """Three parts: Keys (chords of E minor and C major in turn), the bass, and drums."""
    file = mido.MidiFile(type=1, ticks_per_beat=DIVISION)
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(140)))
    head.append(mido.MetaMessage("time_signature", numerator=4, denominator=4))
    file.tracks.append(head)
    keys = [(4.0 * b, 4.0, p, 80) for b in range(bars) for p in ((52, 55, 59), (48, 52, 55))[b % 2]]
    drums = [(1.0 * b, 0.25, 36 if b % 2 == 0 else 38, 100) for b in range(4 * bars)]
    for name, channel, notes, wheel in (
        ("Keys", 0, keys, ()),
        (bass_name, CHANNEL_BASS - 1, bass, bends),
        ("Drums", 9, drums, ()),
    ):
        raw = name.encode().decode("latin-1")  # mido writes names as Latin-1 bytes
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=raw)])
        events = [(b, 2, mido.Message("note_on", note=p, velocity=v)) for b, _, p, v in notes]
        events += [(b + d, 0, mido.Message("note_off", note=p)) for b, d, p, _ in notes]
        events += [(b, 1, mido.Message("pitchwheel", pitch=w)) for b, w in wheel]
        now = 0
        for beat, _, message in sorted(events, key=lambda e: (e[0], e[1])):
            tick = round(beat * DIVISION)
            track.append(message.copy(channel=channel, time=tick - now))
            now = tick
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


class Columns(SimpleNamespace):
    """Columns that are as long as any of them."""

    def __len__(self) -> int:
        return len(self.start)


def slides_of(rows: list[dict[str, object]]) -> Columns:
    """Slides as columns, from rows that name what differs from an overlap of part 1."""
    usual: dict[str, object] = {
        "part": 1, "note": 0, "source_note": 0, "how": "overlap", "start": 0, "land": 0,
        "origin": 0.0, "target": 0.0, "onset": 0, "level_db": float("nan"), "shape": "ramp",
        "range_stated": True, "first_change": -1, "last_change": -1,
    }  # fmt: skip
    full = [{**usual, **r} for r in rows]
    columns = {}
    for key, value in usual.items():
        cells = [r[key] for r in full]
        if isinstance(value, str):
            columns[key] = tuple(cells)
        else:
            kind = np.float64 if isinstance(value, float) else np.int64
            columns[key] = np.array(cells, dtype=kind)
    return Columns(**columns)


def chart_of(
    data: bytes,
    path: str = "beats/night-bus.mid",
    facts: Facts | None = None,
    slides: list[dict[str, object]] = (),  # type: ignore[assignment]
    fills: list[tuple[int, int, int, str, str]] = (),  # type: ignore[assignment]
    bass: tuple[int, ...] = (1,),
) -> Chart:
    """A chart in which every question has been answered by hand."""
    song = build(scan(data))
    chart = Chart(song, facts or Facts(), path)
    bars = song.grid.bars
    start = song.grid.start
    scale = np.array([[p in (4, 6, 7, 9, 11, 0, 2) for p in range(12)]])
    role = tuple("bass" if i in bass else r for i, r in enumerate(("harmony", "other", "drums")))
    heard = {
        "parts": SimpleNamespace(
            role=role,
            certainty=np.array([0.97, 0.99, 1.0]),
            stated=np.array([False, False, False]),
            evidence=("chords of three notes", "the lowest line; its name says sub", ""),
            bass=bass,
            harmony=(0,),
            melody=(),
            drums=(2,),
        ),
        "roots": made_roots(
            start[:-1],
            start[1:],
            [(4, 0)[b % 2] for b in range(bars)],
            [("minor", "major")[b % 2] for b in range(bars)],
            certainty=0.93456,
        ),
        "keys": Keys(
            start=start[:1],
            end=start[-1:],
            tonic=np.array([4], dtype=np.int8),
            mode=("minor",),
            scale=scale,
            certainty=np.array([0.88]),
            scale_certainty=np.array([0.95]),
            fit=scale.astype(np.float64),
        ),
        "phrases": SimpleNamespace(
            start_bar=np.arange(0, bars, 8),
            end_bar=np.minimum(np.arange(8, bars + 8, 8), bars),
            label=tuple("AB"[i % 2] for i in range(len(range(0, bars, 8)))),
            why=tuple("repeats" for _ in range(0, bars, 8)),
            certainty=np.full(len(range(0, bars, 8)), 0.9),
        ),
        "pattern": SimpleNamespace(
            start_bar=np.array([0]), end_bar=np.array([bars]), kind=("root-follow",)
        ),
        "slides": slides_of(list(slides)),
        "fills": SimpleNamespace(
            part=np.array([1] * len(fills), dtype=np.int32),
            start=np.array([f[0] for f in fills], dtype=np.int64),
            end=np.array([f[1] for f in fills], dtype=np.int64),
            hits=np.array([f[2] for f in fills], dtype=np.int64),
            grid=tuple(f[3] for f in fills),
            velocity=tuple(f[4] for f in fills),
            certainty=np.array([0.9] * len(fills)),
            drums=np.array([False] * len(fills)),
            notes=tuple(np.array([], dtype=np.int64) for _ in fills),
        ),
    }
    for name, answer in heard.items():
        setattr(chart, name, answer)
    return chart


SUB = PartRef(2, BASS, CHANNEL_BASS, "Sub")


def edit_of_bass(**what: Any) -> Edit:
    """An edit of the part "Sub"; what is not said stands at its default."""
    return Edit(track=BASS, channel=CHANNEL_BASS, **what)


def finding(chart: Chart, tick: int, end_tick: int, pitch: int | None, **more: object) -> Finding:
    """An off-root error on a note of the bass, or what ``more`` makes of it."""
    move = edit_of_bass(do="pitch", tick=tick, end_tick=end_tick, before=pitch, after=E1)
    usual: dict[str, object] = {
        "rule": "off-root",
        "family": "harmony",
        "level": "error",
        "message": "F#1 holds 2 beats under Em; the root is E.",
        "part": SUB,
        "where": places(chart, np.array([tick]), np.array([end_tick]))[0],
        "readings": (("semitones_above_root", 2), ("in_chord", False), ("ratio", 1 / 3)),
        "certainty": 0.93456,
        "fix": Fix("Move F#1 to E1", "safe", (move,)),
        "pitch": pitch,
        "byte": 1234,
        "byte_length": 4,
        "cause": "f-sharp",
        "fingerprint": f"{tick:032x}",
    }
    return Finding(**{**usual, **more})  # type: ignore[arg-type]


def plain_line(bars: int) -> list[Note]:
    """E under Em and C under C, two notes a bar."""
    return [(4.0 * b + h, 2.0, (E1, 24)[b % 2], 100) for b in range(bars) for h in (0, 2)]


def wrong_note_song(bars: int = 16) -> Chart:
    """F#1 instead of E1 in the first half of bars 5 and 13."""
    line = plain_line(bars)
    for bar in (4, 12):
        line[2 * bar] = (4.0 * bar, 2.0, FS1, 100)
    return chart_of(midi_bytes(line, bars))


def wrong_notes(chart: Chart) -> list[Finding]:
    """The two findings on the wrong notes, of one cause."""
    return [finding(chart, b * BAR, b * BAR + 2 * DIVISION, FS1) for b in (4, 12)]


def roll_song() -> tuple[Chart, Finding]:
    """A flat roll of 1/32 triplets in the last beat of bar 6, and its ramp."""
    line = [n for n in plain_line(16) if not 20.0 <= n[0] < 24.0]
    line += [(20.0, 2.0, 24, 100), (22.0, 1.0, 24, 100)]
    step = 1 / 12
    roll = [(23.0 + k * step, step, 24, 100) for k in range(12)]
    chart = chart_of(
        midi_bytes(line + roll),
        fills=[(23 * DIVISION, 24 * DIVISION, 12, "1/32 triplet", "flat")],
    )
    edits = tuple(
        edit_of_bass(
            do="velocity",
            tick=round(b * DIVISION),
            end_tick=round((b + d) * DIVISION),
            before=v,
            after=45 + 5 * k,
            pitch=p,
        )
        for k, (b, d, p, v) in enumerate(roll)
    )
    return chart, finding(
        chart,
        23 * DIVISION,
        24 * DIVISION,
        24,
        rule="flat-roll",
        family="fills",
        level="note",
        message="12 hits of 1/32 triplets, all at velocity 100.",
        fix=Fix("Let the roll rise from 45 to 100", "by-ear", edits),
        cause="",
    )


def overlap_song() -> tuple[Chart, Finding]:
    """E1 slides up to A#1, which is outside E minor; the fix lands on B1."""
    line = [n for n in plain_line(16) if not 16.0 <= n[0] < 20.0]
    line += [(16.0, 2.25, E1, 100), (18.0, 2.0, 34, 100)]
    data = midi_bytes(line)
    start, land = 18 * DIVISION, 18 * DIVISION + 112
    chart = chart_of(data)
    notes = chart.song.notes
    landing = int(np.flatnonzero((notes.pitch == 34) & (notes.start == start))[0])
    source = int(np.flatnonzero((notes.pitch == E1) & (notes.start == 16 * DIVISION))[0])
    chart.slides = slides_of(
        [
            {
                "note": landing, "source_note": source, "start": start, "land": land,
                "origin": 28.0, "target": 34.0, "onset": 16 * DIVISION, "level_db": -7.512345,
            }
        ]
    )  # fmt: skip
    landed = edit_of_bass(do="pitch", tick=start, end_tick=20 * DIVISION, before=34, after=35)
    return chart, finding(
        chart,
        start,
        land,
        34,
        rule="slide-off-scale",
        family="slides",
        level="error",
        message="Slides from E1 to A#1, which is not in E minor.",
        fix=Fix("Land on B1", "safe", (landed,)),
        cause="",
    )


def bend_song() -> tuple[Chart, Finding]:
    """The wheel draws E1 up to F#1 and a half; the fix makes it G1."""
    line = [n for n in plain_line(16) if not 16.0 <= n[0] < 20.0]
    line += [(16.0, 4.0, E1, 100)]
    top = round(2.5 / 12 * 8192)
    bends = [(17.0 + k / 8, round(top * k / 8)) for k in range(9)] + [(20.0, 0)]
    chart = chart_of(midi_bytes(line, bends=bends))
    notes, changes = chart.song.notes, chart.song.changes
    note = int(np.flatnonzero((notes.pitch == E1) & (notes.start == 16 * DIVISION))[0])
    wheel = np.flatnonzero(changes.kind == 0xE0)
    chart.slides = slides_of(
        [
            {
                "note": note, "source_note": note, "start": 17 * DIVISION, "land": 18 * DIVISION,
                "origin": 28.0, "target": 30.5, "onset": 16 * DIVISION, "how": "bend",
                "first_change": int(wheel[0]), "last_change": int(wheel[8]),
            }
        ]
    )  # fmt: skip
    edits = tuple(
        edit_of_bass(
            do="bend",
            tick=round(b * DIVISION),
            end_tick=round(b * DIVISION),
            before=w,
            after=round(w * 3 / 2.5),
            pitch=E1,
        )
        for b, w in bends[1:9]
    )
    return chart, finding(
        chart,
        17 * DIVISION,
        18 * DIVISION,
        E1,
        rule="slide-between-notes",
        family="slides",
        level="warning",
        message="Bends from E1 to 50 cents above F#1, between two notes.",
        fix=Fix("Scale the bend to land on G1", "safe", edits),
        cause="",
    )


def full_report() -> Report:
    """Three files: one with every sort of entry, one clean, one unreadable."""
    chart = wrong_note_song()
    first, second = wrong_notes(chart)
    kept = finding(
        chart,
        8 * BAR,
        8 * BAR + 2 * DIVISION,
        E1,
        rule="too-low",
        family="low-end",
        level="warning",
        message="E1 sounds at 41.2 Hz, below the 43.0 Hz that the sound carries.",
        fix=None,
        cause="",
    ).waive("The club system carries it.")
    song_wide = finding(
        chart,
        0,
        chart.song.end_tick,
        None,
        rule="no-meter",
        family="housekeeping",
        level="note",
        message="The file states no meter; 4/4 is assumed.",
        part=None,
        byte=None,
        byte_length=None,
        fix=None,
        readings=(("stated", False), ("level", float("nan"))),
        cause="",
        whole=True,
    )
    checked = FileReport(
        path="beats/night-bus.mid",
        warnings=("2 note-offs close no open note and were ignored.",),
        chart=chart,
        findings=(song_wide, first, kept, second),
        unjudged=(
            Unjudged("off-root", 1, 3, "no harmony sounds here"),
            Unjudged("off-root", 9, 10, "no harmony sounds here"),
            Unjudged("slide-after-decay", 1, 17, "the decay is not known; state it with --decay"),
        ),
    )
    clean = FileReport(path="beats/day.mid", chart=chart_of(midi_bytes(plain_line(8), 8)))
    broken = FileReport(
        path="beats/cut.mid",
        problem=Problem(
            "truncated",
            "Track 1 announces 400 bytes, the file ends after 12.",
            "Export the song again.",
            byte=22,
        ),
    )
    return Report((checked, clean, broken), ("1 waiver matches nothing any more.",))
