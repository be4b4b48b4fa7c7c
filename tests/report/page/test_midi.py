"""Fixes that are ticked on the page: the script writes what the patcher writes, fix by fix."""

from __future__ import annotations

import random

from page_songs import TEA, beat_report, many, played, reported

from basslint.errors import MendError
from basslint.judging.results import FileReport
from basslint.mending.patch import patch
from basslint.report.grouping import grouped


def written(modules, data: bytes, rows: list[int]) -> bytes | None:
    result = modules.page.evaluate(
        """async ({ bytes, rows }) => {
          const plans = rows.map((n) => song.data.findings[n].plan);
          const made = midi.mended(Uint8Array.from(bytes), plans);
          return made && [...new Uint8Array(await made.arrayBuffer())];
        }""",
        {"bytes": list(data), "rows": rows},
    )
    return None if result is None else bytes(result)


SLIDES = (
    "tempo 120\ndecay 4s\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*4\nsub wheel 12\n"
    "sub | A1:3.5 .:.5 | F1:3.5 .:.5 |*4\n"
    "sub bend | 1:0 2:0 3:+1 4:+1 4.9:+1 | 1:+1 4.9:0 | 1:0 | 1:0 | 1:0 | 1:0 | 1:0 | 1:0 |"
)


def songs() -> list[FileReport]:
    return [reported(TEA), beat_report(SLIDES), reported(many(32, 12))]


def test_every_fix_and_any_of_them_together(modules) -> None:
    rng = random.Random(5)
    compared = 0
    for report in songs():
        data = modules.load(report)
        song, groups = report.chart.song, grouped(report.findings)
        takeable = [n for n, f in enumerate(data["findings"]) if f["plan"]]
        choices = [[n] for n in takeable] + [
            rng.sample(takeable, k=rng.randint(1, len(takeable))) for _ in range(8) if takeable
        ]
        for rows in choices:
            if any(set(data["findings"][n]["rivals"]) & set(rows) for n in rows):
                continue  # the page does not let them be ticked together
            edits = {e: 0 for n in rows for f in groups[n].findings for e in f.fix.edits}
            made = written(modules, song.scan.data, rows)
            try:
                want = patch(song.scan.data, song, list(edits))
            except MendError:
                continue  # they run into each other in a way that only the patcher sees
            assert made is not None
            assert played(made) == played(want)
            compared += 1
    assert compared >= 15


def test_no_fix_leaves_every_byte(modules) -> None:
    modules.load(reported(TEA))
    assert written(modules, TEA, []) == TEA


def test_a_note_that_would_run_into_another_is_refused(modules) -> None:
    """Two A1 in a row, the first lengthened over the second: players would end both at once."""
    report = beat_report("tempo 120\ndecay 1s\nkeys | A3+C4+E4:4 |*2\nsub | A1:1 .:1 A1:1 .:1 |*2")
    song = report.chart.song
    modules.load(report)
    part = song.parts[report.chart.parts.bass[0]]
    track = song.scan.tracks[part.track]
    off = int(song.notes_of(report.chart.parts.bass[0]).off_row[0])
    status, data = int(track.status[off]), [int(track.data1[off]), int(track.data2[off])]
    plan = {str(part.track): [{}, [off], [[960 + 240, 0, status, data]]]}
    result = modules.page.evaluate(
        "({ bytes, plan }) => midi.mended(Uint8Array.from(bytes), [plan])",
        {"bytes": list(song.scan.data), "plan": plan},
    )
    assert result is None
