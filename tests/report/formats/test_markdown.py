"""Markdown for a comment: short, and hostile texts stay texts.

Escapes are checked by rendering with markdown-it (CommonMark), which rich brings along.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from markdown_it import MarkdownIt
from report_book import book
from report_cases import (
    BAR,
    E1,
    finding,
    full_report,
    wrong_note_song,
    wrong_notes,
)

from basslint.judging.results import FileReport, Problem, Report
from basslint.report.formats.markdown import (
    LONGEST,
    MOST_FILES,
    MOST_GROUPS,
    escaped,
    report_markdown,
)

RENDER = MarkdownIt("commonmark", {"html": True}).enable("table")


def test_it_begins_with_a_table_of_the_files_that_have_something():
    lines = report_markdown(full_report(), book()).splitlines()
    assert lines[0] == "### basslint: 2 errors, 1 note, 1 file not readable"
    assert "| `beats/night-bus.mid` | 2 | 0 | 1 | 1 |" in lines
    assert "| `beats/cut.mid` | not readable | | | |" in lines
    assert "1 more file checked; nothing is off there." in lines
    assert RENDER.render("\n".join(lines)).count("<table>") == 1


def test_findings_are_grouped_and_the_gravest_come_first():
    text = report_markdown(full_report(), book())
    assert text.index("**error**") < text.index("**note**")
    assert text.count("F#1 holds 2 beats") == 1 and "bars 5 and 13, beat 1" in text
    assert "**Fix** (safe): Move F#1 to E1." in text
    assert "too-low" not in text  # waived


def test_a_clean_run_is_one_line():
    clean = Report((full_report().files[1],))
    assert report_markdown(clean, book()) == ("### basslint: nothing is off\n\n1 file checked.\n")


def test_a_great_many_findings_stay_a_comment():
    chart = wrong_note_song()
    findings = tuple(
        finding(chart, 0, BAR, E1, message="x" * 400, cause=str(n)) for n in range(300)
    )
    files = tuple(
        FileReport(path=f"{'long/' * 40}{n}.mid", chart=chart, findings=findings)
        for n in range(200)
    )
    text = report_markdown(Report(files), book())
    assert len(text) <= LONGEST + 200
    assert text.count("\n| ") <= MOST_FILES + 2
    assert f"{200 - MOST_FILES} more files with findings" in text
    assert text.count("- ● **error**") <= MOST_GROUPS


HOSTILE = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "](http://example.org) [x](http://example.org)",
    "![x](http://example.org/x.png)",
    "`code` **bold** _it_ ~~no~~",
    "| a | b |\n\n# heading\n- list",
    "a\\`b\\",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_are_shown_as_they_are(text):
    html = RENDER.render(escaped(text))
    plain = html.replace("\N{WORD JOINER}", "")
    plain = plain.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", '"')
    assert plain == f"<p>{' '.join(text.split())}</p>\n"


@pytest.mark.parametrize("text", ["@everyone", "see #12", "https://example.org", "www.example.org"])
def test_nobody_is_called_and_nothing_is_linked(text):
    html = RENDER.render(escaped(text))  # hosts look for these words after rendering
    assert text not in html
    assert html.replace("\N{WORD JOINER}", "") == f"<p>{text}</p>\n"


@pytest.mark.parametrize("path", ["a`b.mid", "``.mid", "<b>.mid", "a b.mid"])
def test_paths_are_code_whatever_they_hold(path):
    file = FileReport(path=path, problem=Problem("damaged", "It is damaged."))
    html = RENDER.render(report_markdown(Report((file,)), ()))
    shown = path.replace("<", "&lt;").replace(">", "&gt;")
    assert f"<code>{shown}</code>" in html


def test_hostile_messages_bring_no_element_into_a_report():
    chart = wrong_note_song()
    bad = tuple(replace(wrong_notes(chart)[0], message=m, cause=m) for m in HOSTILE)
    html = RENDER.render(
        report_markdown(Report((FileReport(path="a.mid", chart=chart, findings=bad),)), book())
    )
    for element in ("<script", "<img", "<a ", "<h1"):
        assert element not in html
    assert html.count("<li>") == len(HOSTILE) + 1  # and the rule's own line
