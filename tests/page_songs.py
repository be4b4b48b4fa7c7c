"""Songs for the page's tests: reports of them, pages, and what the page's script reads."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import mido
import numpy as np

import basslint
from basslint.checking.one_file import check_bytes
from basslint.judging.results import FileReport
from basslint.report.formats.html import html
from basslint.report.formats.page_song import SongData, song_data
from basslint.report.grouping import grouped
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.rulebook.page import parse_page

SAMPLES = Path(__file__).parents[1] / "samples"
TEA = (SAMPLES / "spilled-tea.mid").read_bytes()  # 16 bars in which four things are off


def tea_report(name: str = "spilled-tea.mid") -> FileReport:
    return reported(TEA, name)


@cache
def reported(data: bytes, name: str = "beat.mid", **facts: object) -> FileReport:
    settings = basslint.Settings().with_facts(**({"decay_s": 1.5} | facts))
    return check_bytes(data, name, settings, settings.choose(read_book()))


@cache
def beat_report(text: str) -> FileReport:
    beat = compile_beat(text)
    settings = basslint.Settings()
    facts = {k: getattr(beat.facts, k) for k in ("decay_s", "one_shot", "bend_range", "key")}
    return check_bytes(
        beat.data, "beat.mid", settings.with_facts(**facts), settings.choose(read_book())
    )


@cache
def page_text(*reports: FileReport) -> str:
    return html(basslint.Report(reports), read_book())


def write_page(folder: Path, *reports: FileReport) -> Path:
    path = folder / "report.html"
    path.write_text(page_text(*reports), encoding="utf-8")
    return path


@cache
def song_of(report: FileReport) -> SongData:
    groups = grouped(report.findings)
    ids = [f"f{n}" for n in range(len(groups))]
    return song_data(report, report.chart, groups, ids, 4)


@cache
def data_of(report: FileReport) -> dict:
    """What the page's script reads of a song, as it does."""
    return json.loads(song_of(report).text)


def repeated(data: bytes, times: int, bars: int = 16) -> bytes:
    """A song of 4/4 bars played several times over."""
    midi = mido.MidiFile(file=io.BytesIO(data))
    length = bars * 4 * midi.ticks_per_beat
    for track in midi.tracks:
        body = [m for m in track if m.type != "end_of_track" and not m.is_meta]
        lasts = sum(m.time for m in body)
        lead = sum(m.time for m in track if m.is_meta and m.type != "end_of_track")
        for _ in range(times - 1):
            again = [m.copy() for m in body]
            if again:
                again[0] = again[0].copy(time=again[0].time + length - lasts)
                track[-1:] = [*again, track[-1].copy(time=0)]
        assert lead == 0, "the sample's meta events all stand at its beginning"
    file = io.BytesIO()
    midi.save(file=file)
    return file.getvalue()


def many(bars: int, findings: int) -> bytes:
    """A song of many bars with some bass notes that are off, no two copies alike."""
    midi = mido.MidiFile(
        file=io.BytesIO(repeated((SAMPLES / "spilled-tea.mid").read_bytes(), bars // 16 + 1))
    )
    rng = np.random.default_rng(1)
    left = findings
    for track in midi.tracks:
        if track.name != "Sub":
            continue
        shift = 0
        for i, message in enumerate(track):
            if message.type == "note_on" and message.velocity and left > 0 and rng.random() < 0.6:
                shift = int(rng.choice([1, 3, 6, -2, 4]))
                track[i] = message.copy(note=message.note + shift)
                pitch, left = message.note, left - 1
                for j in range(i + 1, len(track)):
                    other = track[j]
                    if other.type in ("note_off", "note_on") and other.note == pitch:
                        if other.type == "note_off" or not other.velocity:
                            track[j] = other.copy(note=pitch + shift)
                        break
    file = io.BytesIO()
    midi.save(file=file)
    return file.getvalue()


NOTED = """+++
name = "first-note"
level = "note"
judges = "bass-note"
summary = "A bass note stands on beat 1"
message = "{note_name} stands on beat 1."

[[parameter]]
name = "second"
default = 2.0
unit = "beat"
reason = "all that begins before it"

[[parameter]]
name = "last"
default = 860.0
unit = "bar"
reason = "enough of them"

[[when]]
beat = { below = "second" }
bar = { below = "last" }
+++
## What you hear
A note.
## Why it matters
It does not.
## When to break it
Always.
## Sources
common practice, no source
"""


def crowded() -> FileReport:
    """1,970 bars with more than a thousand findings, none of which stands for another."""
    settings = basslint.Settings().with_facts(decay_s=1.5)
    rules = (*settings.choose(read_book()), parse_page(NOTED, "first-note.md", "house", "house"))
    report = check_bytes(many(1970, 1000), "long.mid", settings, rules)
    return replace(report, findings=tuple(replace(f, cause="") for f in report.findings))


def played(data: bytes) -> list[list[tuple]]:
    """The events of each track with their ticks, as mido reads them."""
    tracks = []
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        tick, told = 0, []
        for message in track:
            tick += message.time
            told.append((tick, *message.copy(time=0).bytes()))
        tracks.append(told)
    return tracks
