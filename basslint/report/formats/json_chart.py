"""What was heard, as "basslint-chart/1": a document of its own, or part of a report."""

from __future__ import annotations

from basslint.hear.chart import Chart
from basslint.report.formats.json_values import (
    PITCH,
    SECONDS,
    TEMPO,
    Json,
    number,
    posix,
    share,
    text,
)


def chart_json(chart: Chart) -> str:
    """What was heard as "basslint-chart/1"."""
    return text(chart_object(chart))


def chart_object(chart: Chart) -> Json:
    """A chart as plain JSON values."""
    song = chart.song
    grid = song.grid
    meter = zip(grid.change_tick, grid.change_numerator, grid.change_denominator, strict=True)
    return {
        "schema": "basslint-chart/1",
        "path": posix(chart.path),
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
            "certainty": share(heard.certainty[i]),
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
        known = tonic >= 0
        spelled = chart.spelling_at(int(keys.start[row]))
        result.append(
            {
                "start_tick": int(keys.start[row]),
                "end_tick": int(keys.end[row]),
                "tonic": spelled[tonic] if known else None,
                "tonic_pc": tonic if known else None,
                "mode": keys.mode[row] if known else None,
                "scale_pcs": keys.rising(row),
                "certainty": share(keys.certainty[row]),
                "stated": chart.facts.key is not None,
                "source": chart.key_source(row),
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
            "quality": roots.quality_name(i) or None,
            "certainty": share(certainty),
            "source": roots.source_name(i),
        }
        for i, (start, end, root, certainty) in enumerate(
            zip(
                roots.start.tolist(),
                roots.end.tolist(),
                roots.root.tolist(),
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
            "level_db": number(float(slides.level_db[i]), 2),
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
