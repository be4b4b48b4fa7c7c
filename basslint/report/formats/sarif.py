"""The report as SARIF 2.1.0 (OASIS), for code hosts and dashboards.

A MIDI file has no lines, so a place is the bytes of the note's event and, for people, a logical
location of part, bar and beat.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Sequence
from pathlib import Path, PurePath
from urllib.parse import quote

from basslint.judging.results import FileReport, Finding, Problem, Report, Unjudged
from basslint.report.drawing.marks import bar_list, number, spot
from basslint.report.formats.json_report import edit_object
from basslint.report.formats.json_values import BEATS, SHARE, Json, indented
from basslint.report.harmless_markdown import harmless_markdown
from basslint.report.section import Run, Section, Sheet, section_of
from basslint.rulebook.model import Rule

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
ROOT = "SOURCEROOT"  # paths are relative to where the check was run
FINGERPRINT = "basslint/1"
_NOTICES, _RESULTS = "toolExecutionNotifications", "results"
_OPEN = -1  # SARIF's own word for an index that is not set


def report_sarif(report: Report, rules: Sequence[Rule], base: Path | None = None) -> str:
    """A run as SARIF 2.1.0; paths are given relative to ``base`` (the working directory)."""
    run = Run(tuple(rules), report.remarks, Sheet(index=tuple(r.name for r in rules)))
    sections = [section(f, rules, run.sheet, base) for f in report.files]
    return "".join(assemble(sections, run, base))


def section(
    file: FileReport, rules: Sequence[Rule], sheet: Sheet, base: Path | None = None
) -> Section:
    """Results as ``text``, notifications as ``aside``; the file's place in the run is left open."""
    index = {name: i for i, name in enumerate(sheet.index)}
    at = {"artifactLocation": {**_location(file.path, base or Path.cwd()), "index": _OPEN}}
    results = [_object(_result(f, at, index), 6) for f in file.findings]
    notices = [_object(n, 10) for n in _notices(file, at, index)]
    return section_of(file, sheet, _join(results, 6), _join(notices, 10))


def assemble(sections: Sequence[Section], run: Run, base: Path | None = None) -> Iterator[str]:
    """One run: the tool with its rules, notifications, artifacts, results."""
    from basslint import __version__

    remarks = [_object({"level": "note", "message": _words(r)}, 10) for r in run.remarks]
    notices = [_placed(s.aside, i) for i, s in enumerate(sections) if s.aside] + remarks
    results = [_placed(s.text, i) for i, s in enumerate(sections) if s.text]
    places = [_location(s.path, base or Path.cwd()) for s in sections]
    driver = {
        "name": "basslint",
        "version": __version__,
        "semanticVersion": __version__,
        "rules": [_rule(rule) for rule in run.rules],
    }
    whole = not any(s.problem or s.faults for s in sections)
    log = {
        "tool": {"driver": driver},
        "invocations": [{"executionSuccessful": whole, _NOTICES: []}],
        "artifacts": [{"location": p, "mimeType": "audio/midi"} for p in places],
        _RESULTS: [],
    }
    text = indented({"$schema": SCHEMA, "version": "2.1.0", "runs": [log]})
    for name, depth, members in ((_NOTICES, 10, notices), (_RESULTS, 6, results)):
        before, after = text.split(f'"{name}": []', 1)
        yield before
        yield f'"{name}": {_list(members, depth)}'
        text = after
    yield text + "\n"


def _list(members: Sequence[str], depth: int) -> str:
    """Objects that are text already, as a list at a depth."""
    if not members:
        return "[]"
    inner = " " * (depth + 2)
    return f"[\n{inner}{_join(members, depth)}\n{' ' * depth}]"


def _join(members: Sequence[str], depth: int) -> str:
    return f",\n{' ' * (depth + 2)}".join(members)


def _object(value: Json, depth: int) -> str:
    """An object's text as a member of a list at a depth."""
    return indented(value, "\n" + " " * (depth + 2))


def _placed(text: str, place: int) -> str:
    """The text of a section with the file's place in the run. Inside a text the quotes would be
    escaped, so that only the key itself matches."""
    return text.replace(f'"index": {_OPEN}', f'"index": {place}')


def _location(path: str, base: Path) -> Json:
    """A path as a URI: relative to the base where it lies below it."""
    pure = PurePath(path)
    if pure.is_absolute():
        try:
            pure = pure.relative_to(base)
        except ValueError:
            return {"uri": _absolute(pure)}
    return {"uri": quote(os.fsencode(pure.as_posix())), "uriBaseId": ROOT}


def _absolute(path: PurePath) -> str:
    """A path from the root as a URI (RFC 8089): a drive stands after three slashes, a share's host
    after two."""
    written = path.as_posix()
    drive = "" if written.startswith("//") else path.drive
    host = "" if written.startswith("//") else "//"
    slash = "/" if drive else ""
    return f"file:{host}{slash}{drive}{quote(os.fsencode(written[len(drive) :]))}"


def _rule(rule: Rule) -> Json:
    return {
        "id": rule.name,
        "shortDescription": {"text": rule.summary},
        "help": {
            "text": f"{rule.summary}.\n\n{rule.body}",
            "markdown": harmless_markdown(rule.body),
        },
        "defaultConfiguration": {"level": rule.level},
        "properties": {
            "tags": [rule.family],
            "origin": rule.origin,
            "parameters": {
                p.name: {"value": p.default, "unit": p.unit, "reason": p.reason}
                for p in rule.parameters
            },
        },
    }


def _result(finding: Finding, at: Json, index: dict[str, int]) -> Json:
    physical = dict(at)
    if finding.byte is not None and finding.byte_length is not None:
        physical["region"] = {"byteOffset": finding.byte, "byteLength": finding.byte_length}
    where, part, fix = finding.where, finding.part, finding.fix
    place = spot(where.bar, where.beat)
    logical = {"name": place, "fullyQualifiedName": place, "kind": "place"}
    if part is not None:
        full = f"{part.name}/bar {where.bar}/beat {number(where.beat)}"
        logical = {"name": f"{part.name}, {place}", "fullyQualifiedName": full, "kind": "part"}
    result: Json = {
        "ruleId": finding.rule,
        "level": finding.level,
        "message": _words(finding.message if fix is None else f"{finding.message} {fix.title}."),
        "locations": [{"physicalLocation": physical, "logicalLocations": [logical]}],
        "partialFingerprints": {FINGERPRINT: finding.fingerprint},
        "properties": {
            "certainty": round(finding.certainty, SHARE),
            "bar": where.bar,
            "beat": round(where.beat, BEATS),
            "tick": where.tick,
            "endTick": where.end_tick,
            "readings": {name: _finite(value) for name, value in finding.readings},
        },
    }
    if finding.rule in index:
        result["ruleIndex"] = index[finding.rule]
    if part is not None:
        result["properties"]["track"] = part.track
        result["properties"]["channel"] = part.channel
    if fix is not None:
        edits = [edit_object(e) for e in fix.edits]
        result["properties"]["fix"] = {"title": fix.title, "kind": fix.kind, "edits": edits}
    # a result without suppressions says that they were not looked for; an empty list, that none is
    result["suppressions"] = (
        []
        if finding.waived is None
        else [{"kind": "external", "status": "accepted", "justification": finding.waived}]
    )
    return result


def _notices(file: FileReport, at: Json, index: dict[str, int]) -> list[Json]:
    place = [{"physicalLocation": at}]
    notices: list[Json] = []
    if file.problem is not None:
        notices.append(_unreadable(file.problem, at))
    remarks = [("note", w) for w in file.warnings]
    remarks += [("error", f"basslint's own fault: {fault}") for fault in file.faults]
    notices += [{"level": lv, "message": _words(t), "locations": place} for lv, t in remarks]
    for (rule, reason), bars in _by_reason(file.unjudged).items():
        notice: Json = {
            "level": "note",
            "message": _words(f"Not judged, {bar_list(bars)}: {reason}"),
            "locations": place,
        }
        if rule in index:
            notice["associatedRule"] = {"id": rule, "index": index[rule]}
        notices.append(notice)
    return notices


def _unreadable(problem: Problem, at: Json) -> Json:
    physical = dict(at)
    if problem.byte is not None:
        physical["region"] = {"byteOffset": problem.byte, "byteLength": 0}
    return {
        "descriptor": {"id": problem.kind},
        "level": "error",
        "message": _words(problem.words),
        "locations": [{"physicalLocation": physical}],
    }


def _by_reason(unjudged: Sequence[Unjudged]) -> dict[tuple[str, str], list[tuple[int, int]]]:
    spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for entry in unjudged:
        spans.setdefault((entry.rule, entry.reason), []).append((entry.start_bar, entry.end_bar))
    return {key: sorted(bars) for key, bars in spans.items()}


def _words(text: str) -> Json:
    """A message. Names must not become links: ``[text](address)`` is one in SARIF (3.11.6)."""
    return {"text": text.replace("](", "] (")}


def _finite(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value
