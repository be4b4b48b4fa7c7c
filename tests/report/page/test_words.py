"""What the page makes of paths, sentences and counts, as text."""

from __future__ import annotations

from pathlib import Path

from page_songs import reported, tea_report

from basslint.judging.results import FileReport, Problem
from basslint.report.formats.html import assemble, section
from basslint.report.formats.page_parts import environment
from basslint.report.section import Run, Sheet

TEA = (Path(__file__).parents[3] / "samples/spilled-tea.mid").read_bytes()


def page(*files: FileReport, remarks: tuple[str, ...] = ()) -> str:
    sections = [section(file, (), Sheet()) for file in files]
    return "".join(assemble(sections, Run(remarks=remarks)))


def shown(text: str, filter: str) -> str:
    return str(environment().from_string("{{ x|" + filter + " }}").render(x=text))


def test_a_file_stands_out_from_its_folders() -> None:
    """Long paths of folders hid the names, and broke in the middle of them on a phone."""
    assert shown("a/b & c/<x>.mid", "filed") == (
        '<span class="quiet">a/<wbr>b &amp; c/<wbr></span>&lt;x&gt;.mid'
    )
    assert shown("x.mid", "filed") == "x.mid"
    text = page(reported(TEA, "beats/tea.mid"))
    assert 'h"><span class="quiet">beats/<wbr></span>tea.mid</h2>' in text


def test_commands_in_sentences_are_set_as_such() -> None:
    assert shown("say `basslint <i>` or `b`", "worded") == (
        "say <code>basslint &lt;i&gt;</code> or <code>b</code>"
    )
    assert '<p class="quiet">try <code>it</code></p>' in page(tea_report(), remarks=("try `it`",))


def test_counts_stand_before_their_commas() -> None:
    broken = FileReport(path="b.mid", problem=Problem("empty", "It is empty.", "Export it."))
    assert "0 notes</span>, 1 unreadable" in page(broken)


def test_what_is_certain_is_not_counted() -> None:
    """The slide after the decay is arithmetic; the page called it 100 % sure, the text nothing."""
    text = page(tea_report())
    assert "100 % sure" not in text and "99 % sure" in text
