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

from basslint.fixes.edits import Fix
from basslint.judging.results import FileReport, Problem, Report
from basslint.report.formats.markdown import (
    LONGEST,
    MOST_FILES,
    MOST_GROUPS,
    assemble,
    escaped,
    report_markdown,
)
from basslint.report.section import Run, Section, Tally

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
        finding(chart, 0, BAR, E1, message="x" * 400, cause=str(n)) for n in range(2 * MOST_GROUPS)
    )
    files = tuple(
        FileReport(path=f"{'long/' * 40}{n}.mid", chart=chart, findings=findings)
        for n in range(2 * MOST_FILES)
    )
    text = report_markdown(Report(files), book())
    assert len(text) <= LONGEST + 200
    assert text.count("\n| ") <= MOST_FILES + 2
    assert f"{MOST_FILES} more files with findings" in text
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


def test_what_was_not_read_and_not_judged_is_told_too():
    lines = report_markdown(full_report(), book()).splitlines()
    assert (
        "- `beats/cut.mid` could not be read: Track 1 announces 400 bytes, the file ends after 12. "
        "Export the song again."
    ) in lines
    assert "- off-root: no harmony sounds here" in lines
    assert "- slide-after-decay: the decay is not known; state it with --decay" in lines
    assert lines.count("</details>") == 2
    assert "- 1 waiver matches nothing any more." in lines
    spoke = [line for line in lines if "basslint explain" in line]
    assert len(spoke) == len([r for r in book() if r.name in ("off-root", "no-meter")])
    fault = replace(full_report().files[1], faults=("off-root failed: KeyError",))
    assert "- basslint's own fault: off-root failed: KeyError" in report_markdown(
        Report((fault,)), ()
    )


@pytest.mark.parametrize(("kind", "words"), [("safe", "safe"), ("by-ear", "by ear")])
def test_a_finding_is_told_with_its_fix_and_rule(kind, words):
    chart = wrong_note_song()
    found = replace(wrong_notes(chart)[0], fix=Fix("Land on B1.", kind, ()))
    file = FileReport(path="a.mid", chart=chart, findings=(found,))
    told = f"**Fix** ({words}): Land on B1. <sub>off-root</sub>"
    one = report_markdown(Report((file,)), ())
    assert "- ● **error** bar 5, beat 1: F#1 holds" in one and told in one
    two = report_markdown(Report((file, replace(file, path="b.mid"))), ())
    assert "- ● **error** `b.mid` bar 5, beat 1: F#1 holds" in two  # which of them
    bare = replace(file, findings=(replace(found, fix=None),))
    assert "Fix" not in report_markdown(Report((bare,)), ())


def part(**more):
    return Section(**{"path": "a.mid", "text": "", "tally": Tally(), **more})


BROKEN = Problem("damaged", "It is damaged.")


@pytest.mark.parametrize(
    ("sections", "head"),
    [
        ([part()], "nothing is off"),
        ([part(tally=Tally(error=2, note=1)), part(tally=Tally(note=1))], "2 errors, 2 notes"),
        ([part(problem=BROKEN), part()], "1 file not readable"),
        ([part(bassless=25)], "no bass part was found, so 25 rules did not judge"),
        ([part(bassless=1), part()], "no bass part was found in 1 file, so 1 rule did not judge"),
        ([part(bassless=25), part(bassless=3)], "no bass part was found in 2 files"),
        ([part(rootless="x")], "roots were hardly judged, or not at all"),
        (
            [part(rootless="x"), part(), part(rootless="y")],
            "roots were hardly judged, or not at all in 2 files",
        ),
    ],
)
def test_the_headline_says_what_was_found_and_what_nobody_looked_at(sections, head):
    assert "".join(assemble(sections, Run())).splitlines()[0] == f"### basslint: {head}"


@pytest.mark.parametrize(
    ("section", "row"),
    [
        (part(named=("x",), tally=Tally(error=1, note=2, waived=3)), "`a.mid` | 1 | 0 | 2 | 3"),
        (part(bassless=25), "`a.mid` (no bass part found) | 0 | 0 | 0 | 0"),
        (
            part(rootless="roots were not judged"),
            "`a.mid` (roots were not judged) | 0 | 0 | 0 | 0",
        ),
        (part(faults=("off-root failed",)), "`a.mid` | 0 | 0 | 0 | 0"),
        (part(problem=BROKEN), "`a.mid` | not readable | | |"),
    ],
)
def test_the_table_has_a_row_for_each_file_with_something_to_say(section, row):
    lines = "".join(assemble([section, part(path="b.mid")], Run())).splitlines()
    assert f"| {row} |" in lines and not any("`b.mid`" in line for line in lines)
    assert "1 more file checked; nothing is off there." in lines


def test_a_comment_is_cut_where_hosts_would_cut_it():
    run = Run(remarks=tuple(f"{n} {'x' * 990}" for n in range(100)))
    text = "".join(assemble([part()], run))
    assert LONGEST - 1100 < len(text) < LONGEST + 100
    assert text.endswith("x\n\n…the rest is left away; run basslint to see it all.\n")
    assert "left away" not in "".join(assemble([part()], Run(remarks=run.remarks[:50])))
