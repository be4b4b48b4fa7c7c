"""What does the text say of each finding: its place, a sentence, the strip and the fix?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip
from basslint.report.grouping import MOST_DRAWN, UNDRAWN, Group, place
from basslint.report.paper import Paper, kept

if TYPE_CHECKING:
    from basslint.hear.chart import Chart
    from basslint.judging.results import FileReport

_FIX_WORDS = {"safe": "safe", "by-ear": "by ear"}


def print_findings(paper: Paper, file: FileReport, groups: Sequence[Group]) -> bool:
    """Print what is off in one file, what is waived last; True where a strip was drawn.
    ``groups``: all its findings, those of one cause together."""
    drawn = False
    unwaived = [g for g in groups if g.first.waived is None]
    for count, group in enumerate(unwaived):
        if count == MOST_DRAWN:
            paper.blank()
            paper.paragraph([Segment(UNDRAWN, "quiet")], indent=2)
        paper.blank()
        drawn |= print_group(paper, file.chart if count < MOST_DRAWN else None, group)
    waived = [g for g in groups if g.first.waived is not None]
    if waived:
        paper.blank()
    for group in waived:
        _print_waived(paper, group)
    return drawn


def print_group(paper: Paper, chart: Chart | None, group: Group) -> bool:
    """Print findings of one cause with the strip of the first; True where a strip was drawn."""
    first, look = group.first, paper.look
    paper.paragraph(_head(group, look), hanging=2)
    paper.paragraph([Segment(first.message, "plain")], indent=2, hanging=2)
    inner = Look(look.width - 2, look.unicode, look.middle_c)
    rows = finding_strip(chart, first, inner, group.findings[1:]) if chart is not None else ()
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
    tail = [first.rule] if first.part is None else [first.rule, first.part.full_name]
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
