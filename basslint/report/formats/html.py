"""The page that people look at and listen to: one self-contained HTML file.

Everything in it is drawn from the report object; texts are escaped by Jinja2. It needs no network
and, except for zooming and playing, no script.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Any

from basslint.audition.compare import Comparison, compare
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport, Finding, Report
from basslint.report.drawing import marks
from basslint.report.drawing.look import Look
from basslint.report.drawing.roll import Roll, draw_roll
from basslint.report.drawing.strip import finding_strip
from basslint.report.grouping import Group, grouped, place
from basslint.report.heading import song_line, standing
from basslint.report.section import Run, Section, Sheet, section_of, total, unreadable
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.text import harmless

Listen = Callable[[Chart, Finding], Comparison]

STRIP_WIDTH = 76
MOST_HEARD = 60  # findings with sound in one file's page: each carries a few kilobytes of notes


@dataclass(frozen=True, slots=True)
class FindingView:
    """One group of findings as the page shows it; ``id`` is its anchor."""

    id: str
    group: Group
    place: str
    strip: tuple[Any, ...]
    spots: tuple[str, ...]
    sound: str


@dataclass(frozen=True, slots=True)
class SongView:
    """One file as the page shows it."""

    id: str
    file: FileReport
    line: str
    standing: str
    roll: Roll | None
    findings: tuple[FindingView, ...]


def html(report: Report, rules: Sequence[Rule], listen: Listen, middle_c: int = 4) -> str:
    """The whole page. ``listen`` gives what a finding sounds like."""
    sheet = Sheet(middle_c)
    sections = [_section(f, listen, sheet) for f in report.files]
    return "".join(assemble(sections, Run(tuple(rules), report.remarks, sheet)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One song of the page."""
    return _section(file, compare, sheet)


def _section(file: FileReport, listen: Listen, sheet: Sheet) -> Section:
    song = _song(anchor(file.path), file, listen, sheet.middle_c)
    text = _environment().get_template("song.html.j2").render(song=song, marks=marks, levels=LEVELS)
    return section_of(file, sheet, str(text).rstrip())


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The page around its songs, with the pages of the rules that they name."""
    named = {name for s in sections for name in s.named}
    yield str(
        _environment()
        .get_template("page.html.j2")
        .render(
            sections=sections,
            tally=total(sections),
            unreadable=unreadable(sections),
            remarks=run.remarks,
            rules=[(r, _markdown(r.body)) for r in run.rules if r.name in named],
            anchor=anchor,
            levels=LEVELS,
            marks=marks,
            css=_text("page.css"),
            script=_text("page.js"),
        )
    )


def anchor(path: str) -> str:
    """The address of a song within the page: of its path, for its place is not known yet."""
    return "s" + hashlib.sha256(path.encode("utf-8", "surrogatepass")).hexdigest()[:10]


def _song(ident: str, file: FileReport, listen: Listen, middle_c: int) -> SongView:
    chart = file.chart
    if chart is None:
        return SongView(ident, file, "", "", None, ())
    views: list[FindingView] = []
    look = Look(STRIP_WIDTH, True, middle_c)
    for n, group in enumerate(grouped(file.findings), start=1):
        first = group.first
        sound = ""
        if n <= MOST_HEARD and first.part is not None:
            sound = json.dumps(asdict(listen(chart, first)), separators=(",", ":"))
        views.append(
            FindingView(
                f"{ident}f{n}",
                group,
                place(group),
                finding_strip(chart, first, look, group.findings[1:]),
                tuple(f"bar {f.where.bar}" for f in group.by_bar),
                sound,
            )
        )
    spots = [(v.id, f) for v in views for f in v.group.by_bar]
    roll = draw_roll(chart, spots, middle_c)
    return SongView(ident, file, song_line(chart), standing(file), roll, tuple(views))


@cache
def _environment() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("basslint.report", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _plain(value: Any) -> Any:
    """Names and paths from outside, shown and not obeyed; what is marked as HTML is our own."""
    return harmless(value) if type(value) is str else value


def _text(name: str) -> str:
    return (resources.files("basslint.report") / "page" / name).read_text(encoding="utf-8")


def _markdown(body: str) -> str:
    """A rule page's body as HTML; markup inside it is shown, not obeyed."""
    from markdown_it import MarkdownIt

    return str(MarkdownIt("commonmark", {"html": False}).render(body))
