"""The page that people look at and listen to: one self-contained HTML file.

Everything in it is drawn from the report object; texts are escaped by Jinja2. It needs no network;
without its script it can be read, with it the roll is drawn and the sounds are made.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from typing import Any

from basslint.audition.difference import Stretch
from basslint.audition.embedded import Carried
from basslint.audition.sounds import GUESSED_T60_S
from basslint.judging.results import FileReport, Finding, Report
from basslint.readings.slip_evidence import Weighed
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Row
from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip
from basslint.report.formats.nudge_data import not_nudged, nudge_data
from basslint.report.formats.page_parts import (
    carried_script,
    css_text,
    environment,
    markdown,
    packed,
    policy,
    script_text,
    unpacked,
)
from basslint.report.formats.page_song import song_data
from basslint.report.formats.prose import without_examples
from basslint.report.formats.reading_words import readings_in_words
from basslint.report.formats.squeezed import squeezed_html
from basslint.report.grouping import Group, finding_ids, grouped, place, todo
from basslint.report.heading import song_line, standing
from basslint.report.section import Entry, Run, Section, Sheet, section_of, total, unreadable
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.records import record
from basslint.util.text import shell_word

STRIP_WIDTH = 76
AT_ONCE = 200  # cards that are laid out at first, where a script is; page/cards.js has it too
BAR_WIDTH = 96  # pixels of a bar of evidence, both ways
HEAVIEST = 4.0  # log odds that fill a bar: fifty times the odds
MOST_STRIPS = 100  # in one song: beyond, the roll alone shows the place
MOST_BYTES = 8_000_000  # of songs in one file: more is slow to open; a folder has no such bound


@record
class Bar:
    """A piece of evidence as a bar that goes to the right for a slip and to the left against one:
    ``left`` and ``wide`` in pixels of `BAR_WIDTH`."""

    words: str
    how_much: str
    left: float
    wide: float


@record(kw_only=True)
class FindingView:
    """One group of findings as the page shows it; ``id`` is its anchor; ``weighed``: its evidence,
    heaviest first."""

    id: str
    group: Group
    place: str
    strip: tuple[Row, ...]
    readings: tuple[tuple[str, str], ...]
    weighed: tuple[Bar, ...]
    heard: Stretch
    compared: bool
    commands: tuple[tuple[str, str], ...]
    nudged: bool


@record(kw_only=True)
class SongView:
    """One file as the page shows it; ``data`` is what the script reads; ``sounds``: what sounds of
    files play ("bass", "loop"), and the files in base 64."""

    id: str
    file: FileReport
    line: str = ""
    standing: str = ""
    todo: str = ""
    findings: tuple[FindingView, ...] = ()
    data: str = ""
    mended: tuple[tuple[str, int], ...] = ()
    decay: float | None = None
    carried: Carried = Carried()
    sounds: tuple[tuple[str, str], ...] = ()
    not_nudged: str = ""


def html(report: Report, rules: Sequence[Rule], middle_c: int = 4) -> str:
    """The whole page."""
    sheet = Sheet(middle_c=middle_c)
    sections = [section(f, rules, sheet) for f in report.files]
    return "".join(assemble(sections, Run(tuple(rules), report.remarks, sheet)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One song of the page, packed: a run over many songs holds all of them at once."""
    song = _song(anchor(file.path), file, rules, sheet)
    text = (
        environment()
        .get_template("song.html.j2")
        .render(
            song=song,
            marks=marks,
            levels=LEVELS,
            assumed=GUESSED_T60_S,
            bar_width=BAR_WIDTH,
            at_once=AT_ONCE,
        )
    )
    open_ = [v for v in song.findings if v.group.first.waived is None]
    entries = [Entry(LEVELS.index(v.group.first.level), v.id, _in_one_line(v)) for v in open_]
    return section_of(file, sheet, packed(squeezed_html(str(text).rstrip())), entries=entries)


def _in_one_line(view: FindingView) -> str:
    """A finding in one line, for where its card is no more."""
    first = view.group.first
    return f"{first.level}, {view.place}, {first.rule}: {first.message}"


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The page around its songs, with the pages of the rules that they name.

    Songs that would make the file larger than `MOST_BYTES` are left out, those with the gravest
    findings last, and named.
    """
    texts: dict[str, str] = {}
    left = MOST_BYTES
    for each in sorted(sections, key=worst_first):
        text = unpacked(each.text)
        left -= len(text.encode("utf-8"))
        if left >= 0 or not texts:
            texts[each.path] = text
    yield page(sections, run, texts)


def worst_first(each: Section) -> tuple[int, ...]:
    """A key that puts the song with the gravest findings first, then those that are not clean."""
    return (-each.tally.error, -each.tally.warning, -each.tally.note, each.problem is None)


def page(sections: Sequence[Section], run: Run, texts: dict[str, str], home: str = "") -> str:
    """A page of some songs; ``texts``: their HTML by path, of those that stand on it; ``home``:
    the address of an index that it belongs to."""
    script = script_text()
    values = page_values(sections, run, texts, css_text(), carried_script(script), script)
    return str(environment().get_template("page.html.j2").render(values, home=home))


def page_values(
    sections: Sequence[Section], run: Run, texts: dict[str, str], css: str, *scripts: str
) -> dict[str, Any]:
    """What the template of a page asks for, except ``home``; ``scripts``: the one that it holds,
    and those that this one may put there."""
    named = {name for s in sections if s.path in texts for name in s.named}
    return {
        "sections": sections,
        "shown": [(s, texts[s.path]) for s in sections if s.path in texts],
        "left_out": {s.path for s in sections if s.path not in texts},
        "most": MOST_BYTES // 1_000_000,
        "tally": total(sections),
        "unreadable": unreadable(sections),
        "remarks": run.remarks,
        "rules": [(r, _lesson(r)) for r in run.rules if r.name in named],
        "book": run.book,
        "anchor": anchor,
        "levels": LEVELS,
        "marks": marks,
        "css": css,
        "script": scripts[0],
        "policy": policy(css, *scripts),
    }


def _lesson(rule: Rule) -> str:
    return squeezed_html(markdown(without_examples(rule.body)))


def anchor(path: str) -> str:
    """The address of a song within the page: of its path, for its place is not known yet."""
    return "s" + hashlib.sha256(path.encode("utf-8", "surrogatepass")).hexdigest()[:10]


def _song(ident: str, file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> SongView:
    chart = file.chart
    if chart is None:
        return SongView(id=ident, file=file)
    groups = grouped(file.findings)
    judges = {rule.name: rule.judges for rule in rules}
    ids = finding_ids(ident, groups)
    nudged = nudge_data(chart, groups, rules, sheet.nudged)
    data = song_data(file, chart, groups, ids, sheet.middle_c, nudged.of)
    look = Look(STRIP_WIDTH, True, sheet.middle_c)
    views = [
        FindingView(
            id=name,
            group=group,
            place=place(group),
            strip=finding_strip(chart, group.first, look, group.findings[1:])
            if n < MOST_STRIPS
            else (),
            readings=readings_in_words(group.first, judges.get(group.first.rule)),
            weighed=tuple(_bar(piece) for piece in group.first.evidence),
            heard=heard,
            compared=compared,
            commands=commands(file.path, group.first, sheet.stated),
            nudged=nudge is not None or n in nudged.asked,
        )
        for n, (name, group, (heard, compared), nudge) in enumerate(
            zip(ids, groups, data.heard, nudged.of, strict=True)
        )
    ]
    return SongView(
        id=ident,
        file=file,
        line=song_line(chart),
        standing=standing(file),
        todo=todo(groups),
        findings=tuple(views),
        data=data.text,
        mended=data.mended,
        decay=chart.facts.decay_s,
        carried=data.carried,
        sounds=_base64(data.carried),
        not_nudged=not_nudged(nudged, file.path, sheet),
    )


def _bar(piece: Weighed) -> Bar:
    half = BAR_WIDTH / 2
    wide = max(1.0, round(half * min(abs(piece.weight) / HEAVIEST, 1.0), 1))
    side = "for" if piece.speaks_for else "against"
    left = half if piece.speaks_for else half - wide
    return Bar(piece.words, f"{piece.how_much} {side}", left, wide)


def _base64(carried: Carried) -> tuple[tuple[str, str], ...]:
    own = carried.one_shot[0] if carried.one_shot is not None else -1
    return tuple(
        ("bass" if row == own else "loop", base64.b64encode(data).decode("ascii"))
        for row, (data, _) in enumerate(carried.sounds)
    )


def commands(path: str, finding: Finding, stated: str = "") -> tuple[tuple[str, str], ...]:
    """What to type for a finding: (what it does, the command); ``stated``: options of this run."""
    file = f"{shell_word(path)} {stated}".rstrip()
    parts = []
    if finding.fix is not None and finding.waived is None:
        ear = " --by-ear" if finding.fix.kind == "by-ear" else ""
        parts.append(("mend", f"basslint mend {file} --only {finding.rule}{ear}"))
    if finding.waived is None:
        bar = f" --bar {finding.where.bar}" if finding.part is not None else ""
        parts.append(("waive", f'basslint waive {file} {finding.rule}{bar} --reason "…"'))
    return tuple(parts)
