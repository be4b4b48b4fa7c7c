"""What does the text say of one song: its facts, and what is off?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from basslint.report.drawing.canvas import Segment
from basslint.report.heading import CLEAN, song_facts, standing
from basslint.report.paper import Paper, kept

if TYPE_CHECKING:
    from basslint.judging.results import FileReport
    from basslint.report.grouping import Group


def print_song(paper: Paper, file: FileReport) -> bool:
    """Print one file; True where a strip was drawn."""
    paper.line(Segment(file.path, "heading"))
    if file.problem is not None:
        at = f" (At byte {file.problem.byte:,}.)" if file.problem.byte is not None else ""
        paper.paragraph(
            [
                Segment(file.problem.verdict, "error"),
                Segment(f": {file.problem.words}{at}", "plain"),
            ],
            indent=2,
            hanging=4,
        )
    print_facts(paper, file)
    groups: list[Group] = []
    if file.findings:
        from basslint.report.grouping import grouped, todo  # a clean song has none

        groups = grouped(file.findings)
        if sum(1 for f in file.findings if f.waived is None) > 1:  # one speaks for itself
            paper.paragraph([Segment(todo(groups), "plain")], indent=2, hanging=2)
    for warning in file.warnings:
        paper.paragraph([Segment(f"reader: {warning}", "quiet")], indent=2, hanging=4)
    for fault in file.faults:
        words = [Segment("basslint's own fault", "error"), Segment(f": {fault}", "plain")]
        paper.paragraph(words, indent=2, hanging=4)
    if not groups:
        return False
    from basslint.report.formats.text_findings import print_findings

    return print_findings(paper, file, groups)


def print_facts(paper: Paper, file: FileReport) -> None:
    """What the song is, and ahead of it what is said of a song without findings."""
    if file.chart is None:
        return
    said = standing(file)
    style = "plain" if said == CLEAN else "warning"
    clean = [Segment(said, style), Segment("  ", "plain")] if said else []
    words = [*clean, Segment(" · ".join(map(kept, song_facts(file.chart))), "quiet")]
    paper.paragraph(words, indent=2, hanging=2)
