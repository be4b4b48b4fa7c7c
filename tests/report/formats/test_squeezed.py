"""What a page carries is smaller than what is written, and says the same."""

from __future__ import annotations

import pytest

from basslint.report.formats.page_parts import css_text, script_text
from basslint.report.formats.squeezed import squeezed, squeezed_css, squeezed_html


@pytest.mark.parametrize(
    ("written", "carried"),
    [
        ("const a = 1; // why\nlet b;\n", "const a=1;let b;"),
        ("say(\"a  // b\", 'c { d');", "say(\"a  // b\",'c { d');"),
        ("`a  ${ b + `${ c }  d` }  // e`", "`a  ${b + `${c}  d`}  // e`"),
        ("x = { a: `${ { b : 1 }.b }` };", "x={a:`${{b:1}.b}`};"),
        (r"t.replace(/[ /]+ \/ /g, ' ')", r"t.replace(/[ /]+ \/ /g,' ')"),
        ("a = b / c; d = e / f", "a=b / c;d=e / f"),
        ("i++\nj--\nk", "i++\nj--\nk"),  # where a line's end ends a statement it stays
        ("const f = () => {\n  a();\n}\nb", "const f=()=>{a();}\nb"),
        ("a\n  .b()\n  .c", "a.b().c"),
        ("a + +b - -c", "a + +b - -c"),
        ("return  x in y", "return x in y"),
        ("a ? .5 : b", "a?.5:b"),
        (r'"\\" + "\" // "', r'"\\" + "\" // "'),
    ],
)
def test_a_script_says_the_same(written: str, carried: str) -> None:
    assert squeezed(written) == carried
    assert squeezed(carried) == carried


@pytest.mark.parametrize(
    ("written", "carried"),
    [
        ("a b { c: d e; }\n/* f */\ng, h { i: j }", "a b{c:d e;}g,h{i:j}"),
        ("@media (x: y) { .a:not(.b) .c { d: e !important; } }",
         "@media (x:y){.a:not(.b) .c{d:e !important;}}"),
    ],
)  # fmt: skip
def test_a_style_says_the_same(written: str, carried: str) -> None:
    assert squeezed_css(written) == carried


def test_markup_keeps_what_is_drawn_in_columns() -> None:
    text = "<b>\n  <i> a\n b</i> <i></i>\n</b>\n<pre>\n  <i></i>\n  <i></i></pre>\n"
    assert squeezed_html(text) == (
        "<b><i> a\nb</i> <i></i></b>\n<pre>\n  <i></i>\n  <i></i></pre>\n"
    )
    named = '<b title="my  song">my  song</b> <i></i>'  # two blanks in a file's name stay two
    assert squeezed_html(named) == named


def test_no_comment_is_carried() -> None:
    assert "// " not in script_text() and "\n " not in script_text() and "/*" not in css_text()
