"""The report and the chart as JSON, for scripts that must not guess.

Formats "basslint-report/1" and "basslint-chart/1"; their JSON Schemas lie in ``schemas/`` beside
this file. Bars, beats, channels and part numbers count from 1, ticks, tracks and seconds from 0.
What is not known is null; NaN is never written.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from importlib import resources
from pathlib import PurePath
from typing import Any, Literal

from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport, Finding, Problem, Report, Where
from basslint.readings.base import Value
from basslint.report.section import Run, Section, Sheet, section_of, total, unreadable
from basslint.rulebook.model import LEVELS, Rule
from basslint.theory.chords import QUALITIES

SCHEMA = "basslint-report/1"
Json = dict[str, Any]  # a JSON object: leaves this file only as text, or to be embedded in a page

SECONDS, BEATS, PITCH, SHARE, TEMPO = 6, 6, 4, 3, 3  # decimals that are kept


def report_json(report: Report) -> str:
    """A run as "basslint-report/1". The same report gives the same bytes."""
    files = [section(f, (), Sheet()) for f in report.files]
    return "".join(assemble(files, Run(remarks=report.remarks)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One file as an object of ``files``."""
    return section_of(file, sheet, file_text(_file(file)))


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The objects of the files, between head and summary."""
    yield from report_text([s.text for s in sections], run.remarks, summary_of(sections))


def summary_of(sections: Sequence[Section]) -> Json:
    """The contract's ``summary``."""
    counts = total(sections)
    return {
        "files": len(sections),
        "unreadable": unreadable(sections),
        **{level: counts.of(level) for level in LEVELS},
        "waived": counts.waived,
    }


def report_text(files: Sequence[str], remarks: Sequence[str], summary: Json) -> Iterator[str]:
    """A report from objects of files that are text already."""
    from basslint import __version__

    head: Json = {"schema": SCHEMA, "tool": {"name": "basslint", "version": __version__}}
    yield _text(head).removesuffix("\n}\n") + ',\n  "files": ['
    for count, file in enumerate(files):
        yield f"{',' if count else ''}\n    {file}"
    yield "\n  ],\n" if files else "],\n"
    yield _text({"remarks": list(remarks), "summary": summary}).removeprefix("{\n")


def file_text(value: Json) -> str:
    """An object's text, set in as a member of ``files``."""
    return _text(value).rstrip("\n").replace("\n", "\n    ")


def chart_json(chart: Chart) -> str:
    """What was heard as "basslint-chart/1"."""
    return _text(chart_object(chart))


def schema(name: Literal["report", "chart"]) -> Json:
    """The JSON Schema (draft 2020-12) of a format."""
    file = resources.files("basslint.report") / "schemas" / f"{name}.json"
    loaded: Json = json.loads(file.read_text(encoding="utf-8"))
    return loaded


def chart_object(chart: Chart) -> Json:
    """A chart as plain JSON values."""
    song = chart.song
    grid = song.grid
    meter = zip(grid.change_tick, grid.change_numerator, grid.change_denominator, strict=True)
    return {
        "schema": "basslint-chart/1",
        "path": _posix(chart.path),
        "ticks_per_quarter": song.division,
        "bars": grid.bars,
        "duration_s": round(song.seconds, SECONDS),
        "tempo": [
            {"tick": int(tick), "bpm": round(60e6 / int(usec), TEMPO)}
            for tick, usec in zip(song.tempo.tick, song.tempo.usec, strict=True)
        ],
        "meter": [
            {"tick": int(tick), "numerator": int(above), "denominator": int(below)}
            for tick, above, below in meter
        ],
        "parts": _parts(chart),
        "bass": [song.parts[i].number for i in chart.parts.bass],
        "harmony": [song.parts[i].number for i in chart.parts.harmony],
        "keys": _keys(chart),
        "roots": _roots(chart),
        "phrases": _phrases(chart),
        "pattern": _pattern(chart),
        "slides": _slides(chart),
        "fills": _fills(chart),
    }


def finding_object(finding: Finding) -> Json:
    """One finding as plain JSON values."""
    part, fix = finding.part, finding.fix
    also = {"also": [_where(place) for place in finding.also]} if finding.also else {}
    return {
        "rule": finding.rule,
        "level": finding.level,
        "message": finding.message,
        "part": None
        if part is None
        else {"track": part.track, "channel": part.channel, "name": part.name},
        "where": _where(finding.where),
        **also,
        "readings": {name: _value(value) for name, value in finding.readings},
        "certainty": round(finding.certainty, SHARE),
        "fix": None
        if fix is None
        else {"title": fix.title, "kind": fix.kind, "edits": [edit_object(e) for e in fix.edits]},
        "waived": None if finding.waived is None else {"reason": finding.waived},
        "fingerprint": finding.fingerprint,
    }


def _where(where: Where) -> Json:
    return {
        "tick": where.tick,
        "end_tick": where.end_tick,
        "bar": where.bar,
        "beat": round(where.beat, BEATS),
        "time_s": round(where.time_s, SECONDS),
        "end_time_s": round(where.end_time_s, SECONDS),
    }


def edit_object(edit: Edit) -> Json:
    """One edit; ``pitch`` and ``velocity`` stand only where they say more than from and to."""
    result: Json = {
        "do": edit.do,
        "track": edit.track,
        "channel": edit.channel,
        "tick": edit.tick,
        "end_tick": edit.end_tick,
        "from": edit.before,
        "to": edit.after,
    }
    if edit.pitch is not None:
        result["pitch"] = edit.pitch
    if edit.velocity is not None:
        result["velocity"] = edit.velocity
    return result


def _file(file: FileReport) -> Json:
    return {
        "path": _posix(file.path),
        "status": "checked" if file.problem is None else "unreadable",
        "problem": None if file.problem is None else _problem(file.problem),
        "warnings": list(file.warnings),
        "faults": list(file.faults),
        "chart": None if file.chart is None else chart_object(file.chart),
        "findings": [finding_object(f) for f in file.findings],
        "unjudged": [
            {
                "rule": u.rule,
                "start_bar": u.start_bar,
                "end_bar": u.end_bar,
                "reason": u.reason,
            }
            for u in file.unjudged
        ],
    }


def _problem(problem: Problem) -> Json:
    message = f"{problem.message} {problem.advice}".strip()
    return {"kind": problem.kind, "message": message, "byte": problem.byte}


def _parts(chart: Chart) -> list[Json]:
    heard = chart.parts
    return [
        {
            "number": part.number,
            "track": part.track,
            "channel": part.channel,
            "name": part.name,
            "program": part.program,
            "role": heard.role[i],
            "certainty": _share(heard.certainty[i]),
            "stated": bool(heard.stated[i]),
            "notes": part.notes,
            "lowest": part.lowest,
            "highest": part.highest,
        }
        for i, part in enumerate(chart.song.parts)
    ]


def _keys(chart: Chart) -> list[Json]:
    keys = chart.keys
    result: list[Json] = []
    for row, tonic in enumerate(keys.tonic.tolist()):
        told = tonic >= 0
        spelled = chart.spelling_at(int(keys.start[row]))
        result.append(
            {
                "start_tick": int(keys.start[row]),
                "end_tick": int(keys.end[row]),
                "tonic": spelled[tonic] if told else None,
                "tonic_pc": tonic if told else None,
                "mode": keys.mode[row] if told else None,
                "scale_pcs": [
                    (tonic + step) % 12
                    for step in range(12)
                    if keys.scale[row][(tonic + step) % 12]
                ]
                if told
                else [],
                "certainty": _share(keys.certainty[row]),
                "stated": chart.facts.key is not None,
            }
        )
    return result


def _roots(chart: Chart) -> list[Json]:
    roots = chart.roots
    key = chart.key_at(roots.start).tolist() if len(roots.start) else []
    spelled = {row: chart.spelling_at(int(roots.start[key.index(row)])) for row in set(key)}
    return [
        {
            "start_tick": int(start),
            "end_tick": int(end),
            "root": spelled[key[i]][root] if root >= 0 else None,
            "root_pc": root if root >= 0 else None,
            "quality": QUALITIES[quality] if root >= 0 else None,
            "certainty": _share(certainty),
        }
        for i, (start, end, root, quality, certainty) in enumerate(
            zip(
                roots.start.tolist(),
                roots.end.tolist(),
                roots.root.tolist(),
                roots.quality.tolist(),
                roots.certainty.tolist(),
                strict=True,
            )
        )
    ]


def _phrases(chart: Chart) -> list[Json]:
    phrases = chart.phrases
    return [
        {
            "start_bar": int(start) + 1,
            "end_bar": int(phrases.end_bar[i]) + 1,
            "label": phrases.label[i],
            "why": phrases.why[i],
        }
        for i, start in enumerate(phrases.start_bar)
    ]


def _pattern(chart: Chart) -> list[Json]:
    pattern = chart.pattern
    return [
        {
            "start_bar": int(start) + 1,
            "end_bar": int(pattern.end_bar[i]) + 1,
            "kind": pattern.kind[i],
        }
        for i, start in enumerate(pattern.start_bar)
    ]


def _slides(chart: Chart) -> list[Json]:
    slides, parts = chart.slides, chart.song.parts
    return [
        {
            "part": parts[int(part)].number,
            "how": slides.how[i],
            "start_tick": int(slides.start[i]),
            "land_tick": int(slides.land[i]),
            "from_pitch": round(float(slides.origin[i]), PITCH),
            "to_pitch": round(float(slides.target[i]), PITCH),
            "level_db": _number(float(slides.level_db[i]), 2),
        }
        for i, part in enumerate(slides.part)
    ]


def _fills(chart: Chart) -> list[Json]:
    fills, parts = chart.fills, chart.song.parts
    return [
        {
            "part": parts[int(part)].number,
            "start_tick": int(fills.start[i]),
            "end_tick": int(fills.end[i]),
            "hits": int(fills.hits[i]),
            "grid": fills.grid[i],
            "velocity": fills.velocity[i],
        }
        for i, part in enumerate(fills.part)
    ]


def _share(certainty: float) -> float | None:
    return _number(float(certainty), SHARE)


def _value(value: Value) -> Value:
    return _number(value, SECONDS) if isinstance(value, float) else value


def _number(value: float, decimals: int) -> float | None:
    return round(value, decimals) if math.isfinite(value) else None


def _posix(path: str) -> str:
    return PurePath(path).as_posix()


def _text(value: Json) -> str:
    """JSON in ASCII, so that no stream's encoding can spoil it."""
    return json.dumps(value, indent=2, ensure_ascii=True, allow_nan=False) + "\n"
