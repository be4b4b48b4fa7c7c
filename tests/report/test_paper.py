"""How lines are broken: laws that hold for any text and width."""

from __future__ import annotations

import io
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from basslint.report.drawing.canvas import Cells, Row, Segment
from basslint.report.paper import Paper, kept

WORDS = st.lists(st.text(st.characters(categories=["L", "N", "P"]), min_size=1), max_size=20)


def lines(words, width, indent=0, hanging=0):
    stream = io.StringIO()
    paper = Paper(stream, width=width)
    text = " ".join(words)
    half = len(text) // 2
    paper.paragraph([Segment(text[:half], "plain"), Segment(text[half:], "error")], indent, hanging)
    return stream.getvalue().split("\n")[:-1]


@given(words=WORDS, width=st.integers(20, 100), indent=st.integers(0, 8), hanging=st.integers(0, 8))
def test_no_line_is_wider_than_the_paper_and_no_word_is_lost(words, width, indent, hanging):
    told = lines(words, width, indent, hanging)
    assert all(cell_len(line) <= width for line in told)
    assert "".join("".join(told).split()) == "".join("".join(words).split())


@given(words=st.lists(st.from_regex(r"[a-z]{1,12}", fullmatch=True), min_size=1, max_size=30))
def test_lines_break_at_spaces_and_not_before_they_must(words):
    told = lines(words, 30, 2, 4)
    assert " ".join(" ".join(told).split()) == " ".join(words)
    for line, after in pairwise(told):
        assert len(line) + 1 + len(after.split()[0]) > 30
        assert after.startswith("    ") and not line.endswith(" ")


def test_a_word_longer_than_a_line_is_broken_where_the_line_ends():
    assert lines(["x" * 50], 20) == ["x" * 20, "x" * 20, "x" * 10]
    assert lines(["鼓" * 15], 20) == ["鼓" * 10, "鼓" * 5]  # two cells each


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["bass Sub", "·", kept("roots from Keys")], ["bass Sub ·", "roots from Keys"]),
        (
            ["bass Sub", "·", kept("roots from Keys and Pads (MIDI), 17 of 21 bars"), "and so on"],
            ["bass Sub · roots", "from Keys and Pads", "(MIDI), 17 of 21", "bars and so on"],
        ),
        ([kept("the loop with --" + "x" * 12)], ["the loop with", "--xxxxxxxxxxxx"]),
        ([kept("of " + "鼓" * 9)], ["of", "鼓" * 9]),
        ([kept("a " + "x" * 25)], ["a", "x" * 20, "x" * 5]),
    ],
)
def test_kept_words_longer_than_a_line_break_between_words_and_others_stay_whole(words, told):
    assert lines(words, 20) == told


def test_cells_outside_are_left_away_and_runs_of_a_style_are_joined():
    cells = Cells(6)
    cells.put(-1, "abc", "error")
    cells.put(4, "xyz", "note")
    assert cells.segments() == (
        Segment("bc", "error"),
        Segment("  ", "plain"),
        Segment("xy", "note"),
    )
    assert not cells.empty(0) and cells.empty(2) and not cells.empty(6)


def test_drawings_are_cut_at_the_edge_and_not_folded():
    stream = io.StringIO()
    Paper(stream, width=20).drawing([Row((Segment("▐" * 50, "heard"),))], indent=2)
    assert stream.getvalue() == "  " + "▐" * 18 + "\n"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("a\x1b[31mb", r"a\x1b[31mb"),  # a colour, if a terminal obeyed it
        ("a\nb\rc\x07", r"a\nb\rc\x07"),
        ("a\u202eb\u2066", r"a\u202eb\u2066"),  # direction marks, Unicode bidirectional algorithm
        ("caf\udce9.mid", r"caf\udce9.mid"),  # a file name that is not UTF-8
        ("[red]a[/red] :smile:", "[red]a[/red] :smile:"),
    ],
)
def test_a_name_can_do_nothing_but_be_read(name, shown):
    stream = io.StringIO()
    paper = Paper(stream)
    paper.line(Segment(name, "heading"))
    paper.paragraph([Segment(name, "plain")])
    paper.drawing([Row((Segment(name, "plain"),))])
    assert stream.getvalue() == f"{shown}\n" * 3
