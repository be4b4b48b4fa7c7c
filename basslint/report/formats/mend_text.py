"""What was mended, what stands, and why: before and after, edit by edit."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

from basslint.hear.chart import Chart
from basslint.mending.mend import Applied, MendResult
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip
from basslint.report.edit_words import edits_in_words
from basslint.report.paper import Paper


def print_mended(
    result: MendResult,
    target: Path | None,
    dry_run: bool,
    stream: TextIO,
    middle_c: int = 4,
    width: int | None = None,
    replaced: bool = False,
) -> None:
    """Write the account of a mending; ``target`` is the file written, None where none was;
    ``replaced``: there was such a file before."""
    paper = Paper(stream, middle_c, width)
    paper.line(Segment(result.before.path, "heading"))
    for done in result.applied:
        _print_applied(paper, result.before.chart, done)
    for conflict in result.conflicts:
        names = " and ".join(sorted({f.rule for f in conflict.findings}))
        bar = conflict.findings[0].where.bar
        words = f": {names}, bar {bar}, want to change the same event; neither was applied."
        paper.blank()
        paper.paragraph([Segment("conflict", "warning"), Segment(words, "plain")], 2, 4)
    for fault in result.faults:
        paper.paragraph([Segment("undone", "error"), Segment(f": {fault}", "plain")], 2, 4)
    if result.left:
        paper.blank()
        paper.line(Segment("still stands", "focus"))
    for left in result.left:
        f = left.finding
        mark = marks.LEVEL_MARKS[f.level]
        paper.paragraph(
            [
                Segment(f"{mark.drawn(paper.look.unicode)} {mark.word}", mark.style),
                Segment(f"  bar {f.where.bar} · {f.rule}: {f.message} ", "plain"),
                Segment(f"({left.why})", "quiet"),
            ],
            indent=2,
            hanging=4,
        )
    paper.blank()
    fixes = marks.counted(len(result.applied), "fix").replace("fixs", "fixes")
    if target is not None:
        wrote = "replaced" if replaced else "wrote"
        ending = f"{fixes} applied; {wrote} {target}. The original is as it was."
        if str(target) == result.before.path:
            ending = f"{fixes} applied; wrote {target}."
    elif dry_run:
        ending = f"{fixes} would be applied; nothing was written."
    else:
        ending = "Nothing was mended; nothing was written."
    paper.paragraph([Segment(ending, "focus")])


def _print_applied(paper: Paper, chart: Chart | None, done: Applied) -> None:
    finding = done.finding
    paper.blank()
    paper.paragraph(
        [
            Segment("mended", "as-mended"),
            Segment(f"  bar {finding.where.bar}, beat {marks.number(finding.where.beat)}", "focus"),
            Segment(f" · {finding.rule}: {done.fix.title}", "plain"),
        ],
        hanging=2,
    )
    if chart is not None:
        look = Look(paper.look.width - 2, paper.look.unicode, paper.look.middle_c)
        paper.drawing(finding_strip(chart, finding, look), indent=2)
        words = edits_in_words(done.fix.edits, chart, paper.look.middle_c)
        paper.paragraph([Segment(words, "quiet")], 2, 4)
