"""What is this song, in one line?"""

from __future__ import annotations

from basslint.hear.chart import Chart
from basslint.judging.coverage import coverage
from basslint.judging.results import FileReport
from basslint.report.drawing import marks
from basslint.report.section import ROOTS_UNJUDGED, bassless, rootless
from basslint.theory.names import key_name

CLEAN = "nothing is off"


def standing(file: FileReport) -> str:
    """What is said of a file before its findings: that it is clean, as far as it was judged, or
    that no bass was found to judge; empty where the findings speak for themselves."""
    if file.chart is None:
        return ""
    not_judged = bassless(file)
    if not_judged:
        rules = marks.counted(not_judged, "rule")
        return f"no bass part was found, so {rules} did not judge"
    if file.findings or file.faults:
        return ""
    little = rootless(file)
    if little and little != ROOTS_UNJUDGED:
        return f"{CLEAN} in what was judged; {little}"
    return little or CLEAN


def song_line(chart: Chart) -> str:
    """The facts of a song in one line."""
    return " · ".join(song_facts(chart))


def song_facts(chart: Chart) -> tuple[str, ...]:
    """Length, tempo, meter, key and bass of a song, and where its roots come from."""
    song = chart.song
    low, high = 60e6 / float(song.tempo.usec.max()), 60e6 / float(song.tempo.usec.min())
    bpm = marks.number(low, 1)
    if marks.number(high, 1) != bpm:
        bpm += f"–{marks.number(high, 1)}"
    meters = list(
        dict.fromkeys(
            f"{n}/{d}"
            for n, d in zip(song.grid.change_numerator, song.grid.change_denominator, strict=True)
        )
    )
    keys = list(
        dict.fromkeys(
            key_name(int(t), m)
            for t, m in zip(chart.keys.tonic, chart.keys.mode, strict=True)
            if t >= 0
        )
    )
    bass = [f"#{song.parts[i].number} {song.parts[i].name}" for i in chart.parts.bass]
    return (
        marks.counted(song.grid.bars, "bar"),
        marks.minutes(song.seconds),
        f"{bpm} bpm",
        ", ".join(meters),
        ", ".join(keys[:3]) + (", …" if len(keys) > 3 else "") if keys else "key not told",
        f"bass {', '.join(bass)}" if bass else "no bass",
        *filter(None, (coverage(chart).words,)),
    )
