"""What was mended, what stands, and why: before and after, edit by edit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.mending.account import Conflict, MendResult
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip
from basslint.report.edit_words import edits_in_words
from basslint.report.formats.text_song import print_facts
from basslint.report.grouping import MOST_DRAWN, UNDRAWN, Group, grouped, place
from basslint.report.paper import Paper


def print_mended(
    result: MendResult,
    target: Path | None,
    dry_run: bool,
    stream: TextIO,
    middle_c: int = 4,
    width: int | None = None,
    replaced: bool = False,
    parted: bool = False,
) -> None:
    """Write the account of a mending; ``target`` is the file written, None where none was;
    ``replaced``: there was such a file before; ``parted``: it is the folder of several files, and
    those that were written are named elsewhere."""
    paper = Paper(stream, middle_c, width)
    paper.line(Segment(result.before.path, "heading"))
    print_facts(paper, result.before)
    for row, group in enumerate(grouped([done.finding for done in result.applied])):
        if row == MOST_DRAWN:
            paper.blank()
            paper.paragraph([Segment(UNDRAWN, "quiet")])
        fixes = [result.applied[r].fix for r in group.rows]
        _print_applied(paper, result.before.chart, group, fixes, drawn=row < MOST_DRAWN)
    for conflict in result.conflicts:
        paper.blank()
        _print_conflict(paper, conflict)
    for fault in result.faults:
        paper.paragraph([Segment("undone", "error"), Segment(f": {fault}", "plain")], 2, 4)
    if result.left:
        paper.blank()
        paper.line(Segment("still stands", "focus"))
    why = [left.why for left in result.left]
    for group in grouped([left.finding for left in result.left], why):
        _print_left(paper, group, why[group.rows[0]])
    paper.blank()
    count = marks.counted(len(result.applied), "fix", "fixes")
    if target is not None:
        wrote = "replaced" if replaced else "wrote"
        ending = f"{count} applied; {wrote} {target}. The original is as it was."
        if parted:
            ending = f"{count} applied."
        elif str(target) == result.before.path:
            ending = f"{count} applied; wrote {target}."
        elif str(target) == "-":
            ending = f"{count} applied; the song went to standard output."
    elif dry_run:
        ending = f"{count} would be applied; nothing was written."
    else:
        ending = "Nothing was mended; nothing was written."
    paper.paragraph([Segment(ending, "focus")])


def _print_applied(
    paper: Paper, chart: Chart | None, group: Group, fixes: Sequence[Fix], drawn: bool
) -> None:
    """Findings of one cause that were mended alike, with the strip of the first, if ``drawn``."""
    finding = group.first
    if drawn:
        paper.blank()
    paper.paragraph(
        [
            Segment("mended", "as-mended"),
            Segment(f"  {place(group)}", "focus"),
            Segment(f" · {_rule_and_part(finding)}: {fixes[0].title}", "plain"),
        ],
        hanging=2,
    )
    if chart is not None and drawn:
        look = Look(paper.look.width - 2, paper.look.unicode, paper.look.middle_c)
        paper.drawing(finding_strip(chart, finding, look, group.findings[1:]), indent=2)
        edits = tuple(dict.fromkeys(edit for fix in fixes for edit in fix.edits))
        words = edits_in_words(edits, chart, paper.look.middle_c)
        paper.paragraph([Segment(words, "quiet")], 2, 4)


def _print_conflict(paper: Paper, conflict: Conflict) -> None:
    """Fixes of which none was applied, and how to choose one."""
    rules = sorted({f.rule for f in conflict.findings})
    bars = sorted({f.where.bar for f in conflict.findings})
    choose = "Choose with --only RULE." if len(rules) > 1 else "Mend one of them by hand."
    words = (
        f": {', '.join(rules)}, {marks.bar_list([(b, b + 1) for b in bars])}, want to change the "
        f"same notes, so none of it was applied. {choose}"
    )
    paper.paragraph([Segment("conflict", "warning"), Segment(words, "plain")], 2, 4)


def _print_left(paper: Paper, group: Group, why: str) -> None:
    """Findings of one cause that stand for one reason."""
    f = group.first
    mark = marks.LEVEL_MARKS[f.level]
    bars = sorted({where.bar for x in group.findings for where in x.places})
    words = f"{marks.bar_list([(b, b + 1) for b in bars])} · {_rule_and_part(f)}: {f.message}"
    paper.paragraph(
        [
            Segment(f"{mark.drawn(paper.look.unicode)} {mark.word}", mark.style),
            Segment(f"  {words} ", "plain"),
            Segment(f"({why})", "quiet"),
        ],
        indent=2,
        hanging=4,
    )


def _rule_and_part(finding: Finding) -> str:
    """``doubled-note · Piano``: parts may have the same fault in the same bars."""
    return finding.rule if finding.part is None else f"{finding.rule} · {finding.part.full_name}"
