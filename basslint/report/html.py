"""The page that people look at and listen to: one self-contained HTML file.

Everything in it is drawn from the report object; texts are escaped by Jinja2. It needs no network
and, except for zooming and playing, no script.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Any

from basslint.audition.compare import Comparison
from basslint.charting import Chart
from basslint.findings import LEVELS, FileReport, Finding, Level, Report
from basslint.report import marks
from basslint.report.grouping import Group, grouped, place
from basslint.report.heading import song_line
from basslint.report.roll import Roll, draw_roll
from basslint.report.strip import Look, finding_strip
from basslint.rule import Rule

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
    roll: Roll | None
    findings: tuple[FindingView, ...]
    counts: Mapping[Level, int]


def html(report: Report, rules: Sequence[Rule], listen: Listen, middle_c: int = 4) -> str:
    """The whole page. ``listen`` gives what a finding sounds like."""
    songs = [_song(f"s{n}", f, listen, middle_c) for n, f in enumerate(report.files, start=1)]
    named = {f.group.first.rule for s in songs for f in s.findings}
    template = _environment().get_template("page.html.j2")
    return str(
        template.render(
            report=report,
            songs=songs,
            rules=[(r, _markdown(r.body)) for r in rules if r.name in named],
            levels=LEVELS,
            marks=marks,
            css=_text("page.css"),
            script=_text("page.js"),
        )
    )


def _song(ident: str, file: FileReport, listen: Listen, middle_c: int) -> SongView:
    chart = file.chart
    counts = {
        level: sum(1 for x in file.findings if x.level == level and x.waived is None)
        for level in LEVELS
    }
    if chart is None:
        return SongView(ident, file, "", None, (), counts)
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
                finding_strip(chart, first, look),
                tuple(f"bar {f.where.bar}" for f in group.findings),
                sound,
            )
        )
    spots = [(v.id, f) for v in views for f in v.group.findings]
    return SongView(
        ident, file, song_line(chart), draw_roll(chart, spots, middle_c), tuple(views), counts
    )


@cache
def _environment() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("basslint.report", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _text(name: str) -> str:
    return (resources.files("basslint.report") / "page" / name).read_text(encoding="utf-8")


def _markdown(body: str) -> str:
    """A rule page's body as HTML; markup inside it is shown, not obeyed."""
    from markdown_it import MarkdownIt

    return str(MarkdownIt("commonmark", {"html": False}).render(body))
