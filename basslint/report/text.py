"""The report that people read: per finding a place, a sentence, a strip and the fix."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

from basslint.charting import Chart
from basslint.findings import LEVELS, FileReport, Report, Unjudged
from basslint.report import marks
from basslint.report.canvas import Segment
from basslint.report.grouping import Group, grouped, place
from basslint.report.heading import song_facts
from basslint.report.paper import Paper, kept
from basslint.report.strip import Look, finding_strip, legend

_FIX_WORDS = {"safe": "safe", "by-ear": "by ear"}
_HOW_TO_MEND = "basslint mend FILE applies the safe fixes; with --by-ear the others too."


def print_report(
    report: Report, stream: TextIO, middle_c: int = 4, width: int | None = None
) -> None:
    """Write a report as text; ``width`` overrides the terminal's."""
    paper = Paper(stream, middle_c, width)
    shared = _blind_everywhere(report.files)
    drawn = False
    for count, file in enumerate(report.files, start=1):
        drawn |= _print_file(paper, file, shared)
        after = report.files[count] if count < len(report.files) else None
        if after is None or not (_is_clean(file, shared) and _is_clean(after, shared)):
            paper.blank()
    if shared:
        paper.line(Segment("not judged in any file", "focus"))
        for rule, reason in shared:
            words = [Segment(rule, "rule"), Segment(f": {reason}", "plain")]
            paper.paragraph(words, indent=2, hanging=4)
        paper.blank()
    for remark in report.remarks:
        paper.paragraph([Segment(remark, "plain")])
    if drawn:
        paper.paragraph([Segment(legend_line(paper.look), "quiet")])
    if any(x.fix and x.waived is None for f in report.files for x in f.findings):
        paper.paragraph([Segment(_HOW_TO_MEND, "quiet")])
    paper.paragraph(_summary(report, paper.look))


def legend_line(look: Look) -> str:
    """The marks of a strip in words."""
    return "   ".join(kept(entry) for entry in legend(look))


def _blind_everywhere(files: Sequence[FileReport]) -> list[tuple[str, str]]:
    """Rules that judged no bar of any file, for one reason: said once, not in each file."""
    read = [f for f in files if f.chart is not None]
    if len(read) < 2:
        return []
    blind = [{(u.rule, u.reason) for u in f.unjudged if _whole(f, u)} for f in read]
    return sorted(set.intersection(*blind))


def _whole(file: FileReport, entry: Unjudged) -> bool:
    bars = file.chart.song.grid.bars if file.chart is not None else 0
    return entry.start_bar <= 1 and entry.end_bar > bars


def _is_clean(file: FileReport, shared: Sequence[tuple[str, str]]) -> bool:
    """Whether a file needs no more than its heading."""
    told = [u for u in file.unjudged if (u.rule, u.reason) not in shared]
    return not (file.problem or file.warnings or file.findings or file.faults or told)


def _print_file(paper: Paper, file: FileReport, shared: Sequence[tuple[str, str]]) -> bool:
    """Print one file; True where a strip was drawn."""
    paper.line(Segment(file.path, "heading"))
    if file.problem is not None:
        advice = f" {file.problem.advice}" if file.problem.advice else ""
        at = f" (At byte {file.problem.byte:,}.)" if file.problem.byte is not None else ""
        paper.paragraph(
            [
                Segment("could not be read", "error"),
                Segment(f": {file.problem.message}{advice}{at}", "plain"),
            ],
            indent=2,
            hanging=4,
        )
    if file.chart is not None:
        clean = [] if file.findings or file.faults else [Segment("nothing is off  ", "plain")]
        words = [*clean, Segment(" · ".join(map(kept, song_facts(file.chart))), "quiet")]
        paper.paragraph(words, indent=2, hanging=2)
    for warning in file.warnings:
        paper.paragraph([Segment(f"reader: {warning}", "quiet")], indent=2, hanging=4)
    for fault in file.faults:
        words = [Segment("basslint's own fault", "error"), Segment(f": {fault}", "plain")]
        paper.paragraph(words, indent=2, hanging=4)
    groups = grouped(file.findings)
    drawn = False
    for group in groups:
        if group.first.waived is None:
            paper.blank()
            drawn |= print_group(paper, file.chart, group)
    waived = [g for g in groups if g.first.waived is not None]
    if waived:
        paper.blank()
    for group in waived:
        _print_waived(paper, group)
    unjudged = [u for u in file.unjudged if (u.rule, u.reason) not in shared]
    if unjudged:
        paper.blank()
        print_unjudged(paper, file, unjudged)
    return drawn


def print_group(paper: Paper, chart: Chart | None, group: Group) -> bool:
    """Print findings of one cause with the strip of the first; True where a strip was drawn."""
    first, look = group.first, paper.look
    paper.paragraph(_head(group, look), hanging=2)
    paper.paragraph([Segment(first.message, "plain")], indent=2, hanging=2)
    inner = Look(look.width - 2, look.unicode, look.middle_c)
    rows = finding_strip(chart, first, inner) if chart is not None else ()
    paper.drawing(rows, indent=2)
    if first.fix is not None:
        fix = [
            Segment("fix", "as-mended"),
            Segment(f"  {first.fix.title} ", "plain"),
            Segment(f"({_FIX_WORDS[first.fix.kind]})", "quiet"),
        ]
        paper.paragraph(fix, indent=2, hanging=7)
    return bool(rows)


def _head(group: Group, look: Look) -> list[Segment]:
    first, mark = group.first, marks.LEVEL_MARKS[group.first.level]
    tail = [first.rule] if first.part is None else [first.rule, first.part.name]
    if first.certainty < 1:
        tail.append(f"{marks.percent(first.certainty)} sure")
    return [
        Segment(f"{mark.drawn(look.unicode)} {mark.word}", mark.style),
        Segment("  ", "plain"),
        Segment(place(group), "focus"),
        Segment(" · " + " · ".join(map(kept, tail)), "quiet"),
    ]


def _print_waived(paper: Paper, group: Group) -> None:
    first = group.first
    words = f"{first.level} {first.rule}, {place(group)}: {first.waived}"
    mark = marks.WAIVED
    lead = Segment(f"{mark.drawn(paper.look.unicode)} {mark.word}  ", mark.style)
    paper.paragraph([lead, Segment(words, "quiet")], hanging=2)


def print_unjudged(paper: Paper, file: FileReport, unjudged: Iterable[Unjudged]) -> None:
    """Say what of a file was not judged; rules blind for the same bars and reason share a line."""
    spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
    whole: set[tuple[str, str]] = set()
    for entry in unjudged:
        key = (entry.rule, entry.reason)
        spans.setdefault(key, []).append((entry.start_bar, entry.end_bar))
        whole |= {key} if _whole(file, entry) else set()
    lines: dict[tuple[str, str], list[str]] = {}
    for (rule, reason), bars in spans.items():
        words = marks.bar_list(sorted(bars), most=8)
        words = "whole song" if (rule, reason) in whole else words
        lines.setdefault((words, reason), []).append(rule)
    paper.line(Segment("not judged", "focus"))
    for (bars_words, reason), rules in lines.items():
        told = [Segment(", ".join(rules), "rule"), Segment(f", {bars_words}: {reason}", "plain")]
        paper.paragraph(told, indent=2, hanging=4)


def _summary(report: Report, look: Look) -> list[Segment]:
    read = len(report.files) - report.unreadable
    segments = [Segment(marks.counted(read, "file") + " checked", "focus")]
    if report.unreadable:
        segments.append(Segment(f", {report.unreadable} not readable", "error"))
    segments.append(Segment(":", "plain"))
    for level in LEVELS:
        mark, count = marks.LEVEL_MARKS[level], report.count(level)
        style = mark.style if count else "quiet"
        sign = mark.drawn(look.unicode)
        words = kept(f"{sign} {marks.counted(count, mark.word)}")
        segments += [Segment("  ", "plain"), Segment(words, style)]
    if report.waived:
        sign = marks.WAIVED.drawn(look.unicode)
        words = kept(f"{sign} {report.waived} {marks.WAIVED.word}")
        segments += [Segment("  ", "plain"), Segment(words, "quiet")]
    return segments
