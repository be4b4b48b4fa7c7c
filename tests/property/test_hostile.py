"""Whatever bytes, settings or rule pages come in: a report or a typed error, and no warning.

The bytes are drawn after RP-001 (``midi_bytes``); the longer runs are ``tests/bench/mutate.py`` and
``tests/bench/fuzz_atheris.py``.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from midi_bytes import damaged, files

import basslint
from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes
from basslint.judging.results import FileReport
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.report.formats.json_chart import chart_json
from basslint.report.formats.json_report import report_json
from basslint.rulebook.loader import built_in_folder
from basslint.rulebook.page import parse_page
from basslint.settings.discovery import settings_for

SETTINGS = basslint.Settings()
RULES = SETTINGS.choose(book_for(SETTINGS))
SAMPLES = [p.read_bytes() for p in sorted((Path(__file__).parents[2] / "samples").glob("*.mid"))]
PAGES = [p.read_text("utf-8") for p in sorted(built_in_folder().rglob("*.md"))]
few = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)  # fmt: skip


@pytest.fixture(autouse=True)
def no_warning() -> Iterator[None]:
    """A warning of a library would stand between the lines of a report."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


def judged(data: bytes) -> FileReport:
    return check_bytes(data, "song.mid", SETTINGS, RULES)


@few
@given(st.one_of(files(calm=True), damaged(SAMPLES), st.binary(max_size=80)))
def test_any_bytes_end_in_a_report(data: bytes) -> None:
    report = judged(data)
    assert not report.faults
    assert (report.problem is None) == (report.chart is not None)
    if report.problem is not None:
        assert report.problem.message and report.problem.advice
    else:
        chart_json(report.chart)
    report_json(basslint.Report((report,)))


@settings(few, max_examples=25)
@given(st.one_of(files(calm=True), damaged(SAMPLES)))
def test_what_is_mended_can_be_read_and_needs_no_more(data: bytes) -> None:
    choice = Choice(by_ear=True)
    try:
        once = mend(data, judged, choice)
    except basslint.BasslintError:
        return
    assert once.after.problem is None and not once.after.faults
    assert mend(once.data, judged, choice).data == once.data


_words = st.one_of(
    st.sampled_from(
        ("gate", "facts", "limits", "rules", "song", "waive", "key", "decay", "bass", "files",
         "max_bars", "max_seconds", "off-root", "level", "plug_ins", "middle_c", "reason", "until",
         "bar")
    ),
    st.text(st.characters(codec="ascii", categories=("L", "N")), min_size=1, max_size=6),
)  # fmt: skip
_values = st.recursive(
    st.one_of(
        st.sampled_from(('"error"', '"A minor"', '"600ms"', '"x\\u001b"', "true", "0", "-1",
                         "1e400", "nan", "2027-01-31", '"../../x"', "[]", "{}")),
        st.integers(-(2**70), 2**70).map(str),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda v: f"[{', '.join(v)}]"),
        st.lists(st.tuples(_words, inner), max_size=3, unique_by=lambda p: p[0]).map(
            lambda v: "{" + ", ".join(f"{k} = {x}" for k, x in v) + "}"
        ),
    ),
    max_leaves=6,
)  # fmt: skip
_lines = st.one_of(
    st.builds(lambda k, v: f"{k} = {v}", _words, _values),
    _words.map(lambda w: f"[{w}]"),
    _words.map(lambda w: f"[[{w}]]"),
    st.tuples(_words, _words).map(lambda w: f"[{w[0]}.{w[1]}]"),
    st.text(max_size=12),
)


@few
@given(st.lists(_lines, max_size=8).map("\n".join), st.integers(0, 10**9))
def test_any_settings_end_in_settings_or_a_typed_error(text: str, number: int) -> None:
    path = _folder() / f"settings-{number}.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        held = settings_for(Path("song.mid"), path)
        held.choose(RULES)
    except basslint.BasslintError as error:
        assert error.message
    finally:
        path.unlink()


@st.composite
def pages(draw: st.DrawFn) -> str:
    """A built-in page with lines lost, doubled, swapped, or put in."""
    lines = draw(st.sampled_from(PAGES)).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1)) if lines else 0
        how = draw(st.integers(0, 3))
        if how == 0:
            del lines[at : at + draw(st.integers(1, 5))]
        elif how == 1:
            lines[at:at] = lines[at : at + 3]
        elif how == 2:
            lines.insert(at, draw(_lines))
        elif lines:
            lines[at] = lines[at][: draw(st.integers(0, 40))] + draw(st.text(max_size=6))
    return "\n".join(lines)


@few
@given(pages())
def test_any_page_ends_in_a_rule_or_a_typed_error(text: str) -> None:
    try:
        rule = parse_page(text, "page.md", "house", "house")
    except basslint.BasslintError as error:
        assert error.message
        return
    report = check_bytes(SAMPLES[0], "song.mid", SETTINGS, [rule])
    assert not report.faults


def _folder() -> Path:
    import tempfile

    return Path(tempfile.gettempdir())
