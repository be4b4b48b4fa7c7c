"""The report as JSON, for scripts that must not guess.

Format "basslint-report/1"; the JSON Schemas of all formats lie in ``report/schemas``. Bars, beats,
channels and part numbers count from 1, ticks, tracks and seconds from 0. What is not known is null;
NaN is never written.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from basslint.report.formats.json_values import (
    BEATS,
    SECONDS,
    SHARE,
    Json,
    plain,
    posix,
    text,
)
from basslint.report.section import Run, Section, Sheet, lacking, section_of, total, unreadable
from basslint.rulebook.model import LEVELS, Rule

if TYPE_CHECKING:
    from basslint.fixes.edits import Edit
    from basslint.hear.chart import Chart
    from basslint.judging.results import FileReport, Finding, Problem, Report, Where
    from basslint.readings.slip_evidence import Weighed

SCHEMA = "basslint-report/1"


def report_json(report: Report) -> str:
    """A run as "basslint-report/1". The same report gives the same bytes."""
    files = [section(f, (), Sheet()) for f in report.files]
    return "".join(assemble(files, Run(remarks=report.remarks)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One file as an object of ``files``."""
    return section_of(file, sheet, file_text(_file(file, sheet)))


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The objects of the files, between head and summary."""
    texts, summary = [s.text for s in sections], summary_of(sections)
    yield from report_text(texts, run.remarks, summary, run.shard)


def summary_of(sections: Sequence[Section]) -> Json:
    """The contract's ``summary``."""
    counts = total(sections)
    return {
        "files": len(sections),
        "unreadable": unreadable(sections),
        **{level: counts.of(level) for level in LEVELS},
        "waived": counts.waived,
    }


def report_text(
    files: Sequence[str], remarks: Sequence[str], summary: Json, shard: str = ""
) -> Iterator[str]:
    """A report from objects of files that are text already; ``shard``: which share it is."""
    from basslint import __version__

    head: Json = {"schema": SCHEMA, "tool": {"name": "basslint", "version": __version__}}
    yield text(head).removesuffix("\n}\n") + ',\n  "files": ['
    for count, file in enumerate(files):
        yield f"{',' if count else ''}\n    {file}"
    yield "\n  ],\n" if files else "],\n"
    share = {"shard": shard} if shard else {}
    yield text({**share, "remarks": list(remarks), "summary": summary}).removeprefix("{\n")


def file_text(value: Json) -> str:
    """An object's text, set in as a member of ``files``."""
    return text(value).rstrip("\n").replace("\n", "\n    ")


def finding_object(finding: Finding) -> Json:
    """One finding as plain JSON values."""
    part, fix = finding.part, finding.fix
    also = {"also": [_where(place) for place in finding.also]} if finding.also else {}
    weighed = {"evidence": [_weighed(w) for w in finding.evidence]} if finding.evidence else {}
    return {
        "rule": finding.rule,
        "level": finding.level,
        "message": finding.message,
        "part": None
        if part is None
        else {
            "track": part.track,
            "channel": part.channel,
            "name": part.name,
            **({"file": part.file} if part.file else {}),
        },
        "where": _where(finding.where),
        **also,
        "readings": {name: plain(value) for name, value in finding.readings},
        "certainty": round(finding.certainty, SHARE),
        **weighed,
        "fix": None
        if fix is None
        else {"title": fix.title, "kind": fix.kind, "edits": [edit_object(e) for e in fix.edits]},
        "waived": None if finding.waived is None else {"reason": finding.waived},
        "fingerprint": finding.fingerprint,
    }


def _weighed(piece: Weighed) -> Json:
    return {
        "reading": piece.reading,
        "words": piece.words,
        "speaks": "for" if piece.speaks_for else "against",
        "how_much": piece.how_much,
        "weight": piece.weight,
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


def _judged(chart: Chart, lacks: str) -> Json:
    from basslint.judging.coverage import coverage

    done = coverage(chart)
    return {
        "bass_bars": done.bars,
        "root_bars": done.judged,
        "root_sources": list(done.sources),
        "lacks": lacks or None,
    }


def _file(file: FileReport, sheet: Sheet) -> Json:
    from basslint.report.formats.json_chart import chart_object  # not for reports that are joined

    return {
        "path": posix(file.path),
        "status": "checked" if file.problem is None else "unreadable",
        "problem": None if file.problem is None else _problem(file.problem),
        "warnings": list(file.warnings),
        "faults": list(file.faults),
        "chart": None if file.chart is None else chart_object(file.chart),
        "judged": None if file.chart is None else _judged(file.chart, lacking(file, sheet)),
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
    return {"kind": problem.kind, "message": problem.words, "byte": problem.byte}
