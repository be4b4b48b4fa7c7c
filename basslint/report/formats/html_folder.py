"""A folder of pages: one for each song, and an index that opens at once however many there are."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import PurePath

from basslint.report.drawing import marks
from basslint.report.formats.html import anchor, page, worst_first
from basslint.report.formats.page_parts import css_text, environment, policy, unpacked
from basslint.report.section import Run, Section, total, unreadable
from basslint.rulebook.model import LEVELS

INDEX = "index.html"
_LONGEST = 60  # characters of a song's name within its page's


def pages(sections: Sequence[Section], run: Run) -> Iterator[tuple[str, str]]:
    """The pages as (file name, text), the index last: it links to what is there."""
    for each in sections:
        if each.problem is None:
            text = {each.path: unpacked(each.text)}
            yield (
                page_name(each.path),
                page([each], Run(run.rules, book=run.book), text, home=INDEX),
            )
    yield INDEX, _index(sections, run)


def page_name(path: str) -> str:
    """The file name of a song's page: its own name in plain letters, and a mark of its path.

    No dot is left in it: what stands before one may be a device's name on Windows.
    """
    stem = re.sub(r"[^A-Za-z0-9_-]+", "-", PurePath(path).stem)[:_LONGEST].strip("-") or "song"
    return f"{stem}-{anchor(path)[1:7]}.html"


def _index(sections: Sequence[Section], run: Run) -> str:
    css = css_text()
    listed = sorted(sections, key=worst_first)
    quiet = [s for s in listed if not _tells(s)]
    return str(
        environment()
        .get_template("index.html.j2")
        .render(
            sections=sections,
            open=[s for s in listed if _tells(s)],
            unjudged=[s for s in quiet if _unjudged(s)],
            clean=[s for s in quiet if not _unjudged(s)],
            why=_unjudged,
            page_name=page_name,
            tally=total(sections),
            unreadable=unreadable(sections),
            remarks=run.remarks,
            levels=LEVELS,
            marks=marks,
            css=css,
            policy=policy(css),
        )
    )


def _tells(each: Section) -> bool:
    """Whether a song has findings, waived ones too, or could not be checked as it should."""
    counts = each.tally
    found = counts.error + counts.warning + counts.note + counts.waived
    return bool(found or each.problem or each.faults)


def _unjudged(each: Section) -> str:
    """Why a song without findings is not called clean; empty where it was judged."""
    return "no bass part was found" if each.bassless else each.rootless
