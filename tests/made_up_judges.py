"""Judges made up for tests of mending: each rule gives what it wants of a note."""

from __future__ import annotations

from collections.abc import Callable

from midi_bytes import midi, track

from basslint.errors import MidiError
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.messages import places
from basslint.judging.results import FileReport, Finding, PartRef, Problem
from basslint.rulebook.model import Level
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

Told = tuple[Level, FixKind, tuple[Edit, ...]] | None
Rule = Callable[[Song, int], Told]


def line(*pitches: int) -> bytes:
    """A line of quarters on channel 1."""
    events = []
    for pitch in pitches:
        events += [(0, bytes((0x90, pitch, 100))), (480, bytes((0x80, pitch, 64)))]
    return midi(track(*events))


def pitches(data: bytes) -> list[int]:
    return [int(p) for p in build(scan(data)).notes.pitch]


def judge(**rules: Rule) -> Callable[[bytes], FileReport]:
    """A judge of notes: each rule gives level, kind and edits for the notes it flags."""

    def recheck(data: bytes) -> FileReport:
        try:
            song = build(scan(data))
        except MidiError as error:
            return FileReport(
                path="x.mid", problem=Problem(error.kind, error.message, error.advice, error.byte)
            )
        chart = Chart(song, Facts(), "x.mid")
        part = song.parts[0]
        findings = []
        for name, rule in rules.items():
            for row in range(len(song.notes)):
                told = rule(song, row)
                if told is None:
                    continue
                level, kind, edits = told
                one = slice(row, row + 1)
                where = places(chart, song.notes.start[one], song.notes.end[one])[0]
                findings.append(
                    Finding(
                        rule=name,
                        family="made up",
                        level=level,
                        message=f"{name} at {where.tick}",
                        part=PartRef(part.number, part.track, part.channel, part.name),
                        where=where,
                        readings=(),
                        certainty=1.0,
                        fix=Fix(f"{name} mended", kind, edits) if edits else None,
                        pitch=int(song.notes.pitch[row]),
                    )
                )
        return FileReport(path="x.mid", chart=chart, findings=tuple(findings))

    return recheck


def edit(song: Song, row: int, do: str, after: int | None) -> Edit:
    notes = song.notes
    pitch, start, end = int(notes.pitch[row]), int(notes.start[row]), int(notes.end[row])
    before = {"pitch": pitch, "remove": pitch, "end": end}.get(do, start)
    return Edit(
        do=do, track=0, channel=1, tick=start, end_tick=end, before=before, after=after, pitch=pitch
    )  # type: ignore[arg-type]


def turn(old: int, new: int, level: Level = "error", kind: FixKind = "safe") -> Rule:
    """A rule that wants one pitch to be another."""

    def rule(song: Song, row: int) -> Told:
        if song.notes.pitch[row] != old:
            return None
        return level, kind, (edit(song, row, "pitch", new),)

    return rule


def never(pitch: int, level: Level = "error") -> Rule:
    """A rule that knows no fix."""
    return lambda song, row: (level, "safe", ()) if song.notes.pitch[row] == pitch else None


def counted(
    recheck: Callable[[bytes], FileReport],
) -> tuple[Callable[[bytes], FileReport], list[bytes]]:
    """A judge, and what it was asked about, in order."""
    asked: list[bytes] = []

    def recheck_counted(data: bytes) -> FileReport:
        asked.append(data)
        return recheck(data)

    return recheck_counted, asked
