"""The report that people read: per finding a place, a sentence, a strip and the fix."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, TextIO

from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.look import Look, legend
from basslint.report.paper import Paper, kept
from basslint.report.section import (
    Run,
    Section,
    Sheet,
    pieces,
    section_of,
    sheet_for,
    total,
    unreadable,
)
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.records import replace

if TYPE_CHECKING:
    from basslint.judging.results import FileReport, Report, Unjudged

_MOST_RULES = 6  # that did not judge for one reason; more fill lines that nobody reads
_HOW_TO_MEND = "basslint mend FILE applies the safe fixes; with --by-ear the others too."


def print_report(
    report: Report, stream: TextIO, middle_c: int = 4, width: int | None = None
) -> None:
    """Write a report as text; ``width`` overrides the terminal's."""
    sheet = replace(sheet_for(stream, width), middle_c=middle_c)
    for piece in pieces(sys.modules[__name__], report, (), sheet):
        stream.write(piece)


class _Draft(io.StringIO):
    """Text on its way to a stream, with what is to be known of that stream."""

    def __init__(self, sheet: Sheet) -> None:
        super().__init__()
        self.sheet = sheet

    @property
    def encoding(self) -> str:  # type: ignore[override]  # read-only there, writable in typeshed
        return self.sheet.encoding

    def isatty(self) -> bool:
        return self.sheet.terminal


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One file's findings; what was not judged follows once all files are known."""
    from basslint.report.formats.text_song import (
        print_song,  # a song that is known already has text
    )

    draft = _Draft(sheet)
    drawn = print_song(Paper(draft, sheet.middle_c, sheet.width), file)
    return section_of(file, sheet, draft.getvalue(), drawn=drawn)


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The sections, then what holds for all of them, then the summary."""
    draft = _Draft(run.sheet)
    paper = Paper(draft, run.sheet.middle_c, run.sheet.width)
    shared = _unjudged_everywhere(sections)
    for count, each in enumerate(sections, start=1):
        draft.write(each.text)
        lines = _own_unjudged(each, shared)
        if lines:
            paper.blank()
            print_unjudged(paper, lines, each.bars)
        after = sections[count] if count < len(sections) else None
        quiet = each.silent and not lines
        if after is None or not (quiet and after.silent and not _own_unjudged(after, shared)):
            paper.blank()
    if shared:
        paper.line(Segment("not judged in any file", "focus"))
        for rule, reason in sorted(shared):
            words = [Segment(rule, "rule"), Segment(f": {reason}", "plain")]
            paper.paragraph(words, indent=2, hanging=4)
        paper.blank()
    for remark in run.remarks:
        paper.paragraph([Segment(remark, "plain")])
    if any(s.drawn for s in sections):
        paper.paragraph([Segment(legend_line(paper.look), "quiet")])
    if any(s.mendable for s in sections):
        paper.paragraph([Segment(_HOW_TO_MEND, "quiet")])
    paper.paragraph(_summary(sections, paper.look))
    yield draft.getvalue()


def legend_line(look: Look) -> str:
    """The marks of a strip in words."""
    return "   ".join(kept(entry) for entry in legend(look))


def _unjudged_everywhere(sections: Sequence[Section]) -> frozenset[tuple[str, str]]:
    """Rules that judged no bar of any file, for one reason: said once, not in each file."""
    read = [s for s in sections if s.bars]
    if len(read) < 2:
        return frozenset()
    not_judged = [{(u.rule, u.reason) for u in s.unjudged if _whole(u, s.bars)} for s in read]
    return frozenset(set.intersection(*not_judged))


def _whole(entry: Unjudged, bars: int) -> bool:
    return entry.start_bar <= 1 and entry.end_bar > bars


def _own_unjudged(each: Section, shared: frozenset[tuple[str, str]]) -> list[Unjudged]:
    """What was not judged in one file and is not said for all."""
    return [u for u in each.unjudged if (u.rule, u.reason) not in shared]


def print_unjudged(paper: Paper, unjudged: Iterable[Unjudged], bars_in_all: int) -> None:
    """Say what of a file was not judged; rules with the same bars and reason share a line."""
    spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
    whole: set[tuple[str, str]] = set()
    for entry in unjudged:
        key = (entry.rule, entry.reason)
        spans.setdefault(key, []).append((entry.start_bar, entry.end_bar))
        whole |= {key} if _whole(entry, bars_in_all) else set()
    lines: dict[tuple[str, str], list[str]] = {}
    for (rule, reason), bars in spans.items():
        words = marks.bar_list(sorted(bars), most=8)
        words = "whole song" if (rule, reason) in whole else words
        lines.setdefault((words, reason), []).append(rule)
    paper.line(Segment("not judged", "focus"))
    for (bars_words, reason), rules in lines.items():
        named = rules if len(rules) <= _MOST_RULES else [*rules[:2], f"{len(rules) - 2} more rules"]
        line = [Segment(", ".join(named), "rule"), Segment(f", {bars_words}: {reason}", "plain")]
        paper.paragraph(line, indent=2, hanging=4)


def _summary(sections: Sequence[Section], look: Look) -> list[Segment]:
    tally, broken = total(sections), unreadable(sections)
    segments = [Segment(marks.counted(len(sections) - broken, "file") + " checked", "focus")]
    if broken:
        segments.append(Segment(f", {broken} not readable", "error"))
    segments.append(Segment(":", "plain"))
    for level in LEVELS:
        mark, count = marks.LEVEL_MARKS[level], tally.of(level)
        style = mark.style if count else "quiet"
        sign = mark.drawn(look.unicode)
        words = kept(f"{sign} {marks.counted(count, mark.word)}")
        segments += [Segment("  ", "plain"), Segment(words, style)]
    if tally.waived:
        sign = marks.WAIVED.drawn(look.unicode)
        words = kept(f"{sign} {tally.waived} {marks.WAIVED.word}")
        segments += [Segment("  ", "plain"), Segment(words, "quiet")]
    return segments
