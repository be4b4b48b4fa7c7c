"""A page with a fault says where it is and what was meant; a stranger's page is harmless."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from basslint.errors import RuleError
from basslint.readings.base import SUBJECTS, registered
from basslint.rulebook.loader import (
    Rule,
    parse_page,
    read_book,
    read_folder,
)
from basslint.rulebook.pages import MAX_PAGE_BYTES, MAX_PAGES

GOOD = """\
+++
name = "no-low-notes"
level = "warning"
judges = "bass-note"
summary = "A bass note lies below F1"
message = "{note_name} lies below {lowest_hz} Hz."
fix = "note-octave-up"
needs = { root = 0.7 }
lesson = "roots 12"

[[parameter]]
name = "lowest_hz"
default = 43.0
unit = "Hz"
reason = "F1, the lowest note that this room carries"

[[when]]
frequency = { below = "lowest_hz" }
in_chord = true

[[when]]
frequency = { below = "lowest_hz" }
level = "note"
+++
## What you hear
"""


def parse(text: str) -> Rule:
    return parse_page(text, "house/page.md", "house", "house")


def line_of(text: str, part: str, nth: int = 0) -> int:
    lines = text.split("\n")
    return [i for i, line in enumerate(lines, start=1) if part in line][nth]


def test_a_good_page_becomes_a_rule() -> None:
    rule = parse(GOOD)
    assert (rule.name, rule.level, rule.judges) == ("no-low-notes", "warning", "bass-note")
    assert rule.needs == (("root", 0.7),)
    assert [c.level for c in rule.cases] == ["warning", "note"]
    assert [c.reading for c in rule.cases[0].conditions] == ["frequency", "in_chord"]
    assert rule.cases[0].fix == "note-octave-up"
    assert rule.numbers == {"lowest_hz": 43.0}
    assert rule.with_numbers({"lowest_hz": 50.0}).numbers == {"lowest_hz": 50.0}
    assert {c.level for c in rule.at_level("error").cases} == {"error"}
    assert rule.lesson == ("roots", 12) and rule.lesson.order == (0, 12)
    assert parse(GOOD.replace('lesson = "roots 12"\n', "")).lesson is None


@pytest.mark.parametrize(
    ("before", "after", "at", "nth", "says"),
    [
        ("frequency = {", "freqency = {", "freqency", 0, "`frequency`"),
        ("in_chord = true", "in_cord = true", "in_cord", 0, "`in_chord`"),
        ('below = "lowest_hz" }\nlevel', 'below = "lowest" }\nlevel', '"lowest"', 0, "`lowest_hz`"),
        ('"note-octave-up"', '"note-octave-upp"', "octave-upp", 0, "`note-octave-up`"),
        ("root = 0.7", "roots = 0.7", "roots", 0, "`root`"),
        ('level = "note"', 'level = "notes"', '"notes"', 0, "`note`"),
        ('level = "warning"', 'level = "warn"', '"warn"', 0, "`warning`"),
        ('judges = "bass-note"', 'judges = "bas-note"', "judges", 0, "`bass-note`"),
        ("{note_name}", "{note_nam}", "note_nam", 0, "`note_name`"),
        ("below = ", "beneath = ", "beneath", 0, "is, not, one_of"),
        ("summary =", "sumary =", "sumary", 0, "`summary`"),
        ("unit =", "units =", "units", 0, "`unit`"),
        ("default = 43.0", 'default = "low"', "default", 0, "number"),
        ("default = 43.0", "default = nan", "default", 0, "number"),
        ("default = 43.0", "default = true", "default", 0, "number"),
        ("in_chord = true", 'in_chord = "yes"', "in_chord", 0, "yes or no"),
        ("in_chord = true", "in_chord = { above = 1 }", "in_chord", 0, "no number"),
        ('"lowest_hz" }\nin', '["lowest_hz", 3] }\nin', "frequency", 0, "wrong number"),
        ("root = 0.7", "root = 7", "needs", 0, "0 to 1"),
        ("lies below {lowest_hz} Hz.", "lies {below.", "message", 0, "brace"),
        ('name = "no-low-notes"', 'name = "E501"', "E501", 0, "no rule name"),
        ('name = "no-low-notes"', "name = 3", "name = 3", 0, "text"),
        ('summary = "', 'summary = "\\u001b[31m', "summary", 0, "plain text"),
        ("[[when]]\nfreq", "[[wenn]]\nfreq", "wenn", 0, "`when`"),
        ("in_chord = true", "in_chord = ", "in_chord", 0, "not TOML"),
        ('"roots 12"', '"rots 1"', "lesson", 0, "`roots`"),
        ('"roots 12"', '"roots 0"', "lesson", 0, "slides 2"),
        ('"roots 12"', '"roots"', "lesson", 0, "slides 2"),
        ('"roots 12"', "12", "lesson", 0, "slides 2"),
    ],
)
def test_a_fault_names_file_line_and_what_was_meant(
    before: str, after: str, at: str, nth: int, says: str
) -> None:
    text = GOOD.replace(before, after)
    assert text != GOOD
    with pytest.raises(RuleError) as fault:
        parse(text)
    assert f"house/page.md, line {line_of(text, at, nth)}:" in fault.value.message
    assert says in str(fault.value)
    assert fault.value.advice


def test_a_fault_in_the_second_table_names_its_own_line() -> None:
    text = GOOD.replace('level = "note"', "in_cord = true")
    with pytest.raises(RuleError, match=f"line {line_of(text, 'in_cord')}:"):
        parse(text)
    twice = GOOD.replace(
        "[[when]]\nfreq",
        '[[parameter]]\nname = "b"\ndefault = "x"\nunit = "Hz"\nreason = "why"\n\n[[when]]\nfreq',
        1,
    )
    with pytest.raises(RuleError, match=f"line {line_of(twice, 'default', 1)}:"):
        parse(twice)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "just text",
        "+++\n",
        "+++\n+++\n",
        "+++\nname = 1\n+++",
        "+++\n" + "a = " + "[" * 5000 + "]" * 5000 + "\n+++",
        "+++\n" + "a." * 3000 + "b = 1\n+++",
        GOOD.replace("43.0", "1" * 5000),
        GOOD.replace("43.0", "0x" + "f" * 5000),
        GOOD.replace("in_chord = true", "in_chord = 0x" + "f" * 5000),
        GOOD.replace('level = "note"', "level = 0x" + "f" * 5000),
        GOOD.replace("{ root = 0.7 }", '"root"'),
        GOOD.replace("{ root = 0.7 }", "3"),
        GOOD.replace("{ root = 0.7 }", "[[1]]"),
        GOOD.replace("in_chord = true", "in_chord = []"),
        GOOD.replace("in_chord = true", "in_chord = { one_of = [] }"),
        GOOD.replace("in_chord = true", "in_chord = { is = { is = true } }"),
        GOOD.replace("in_chord = true", "in_chord = 1979-05-27"),
        GOOD.replace('"lowest_hz" }\nin', "[[1], [2]] }\nin"),
        GOOD.replace("What you hear", "What \x1b]0;you\x07 hear"),
        GOOD.replace("What you hear", "What \u202eyou hear"),
        GOOD.replace("What you hear", "What &#x202e;you hear"),
        GOOD.replace("What you hear", "What &#8238;you hear"),
        GOOD.replace('name = "lowest_hz"', 'name = "__class__"'),
    ],
    ids=range(24),
)
def test_a_strange_page_is_a_clear_error_and_soon(text: str) -> None:
    begin = time.process_time()
    with pytest.raises(RuleError, match=r"house/page\.md, line \d+:"):
        parse(text)
    assert time.process_time() - begin < 2.0


def test_a_page_cannot_reach_code() -> None:
    """Messages are filled from registered readings only: no attribute, index or call."""
    for field in (
        "{note_name.__class__}",
        "{note_name[0]}",
        "{__import__}",
        "{0}",
        "{}",
        "{note_name!r}",
    ):
        with pytest.raises(RuleError):
            parse(GOOD.replace("{note_name}", field))


def test_no_escape_of_a_terminal_gets_out_of_a_page() -> None:
    for text in (
        GOOD.replace("in_chord = true", '"\\u001b[2J" = true'),
        GOOD.replace("needs = {", '"\\u001b[2J" = 1\nneeds = {'),
        GOOD.replace('level = "note"', 'level = "\\u001b[2J"'),
        GOOD.replace("needs = {", 'because = ["\\u001b[2J"]\nneeds = {'),
    ):
        with pytest.raises(RuleError) as fault:
            parse(text)
        assert "\x1b" not in str(fault.value)


def test_a_number_that_nothing_uses_is_a_slip() -> None:
    text = GOOD.replace('fix = "note-octave-up"\n', "").replace("below {lowest_hz}", "below 43")
    parse(text)
    with pytest.raises(RuleError, match="uses the parameter `lowest_hz`"):
        parse(text.replace('{ below = "lowest_hz" }', "32.7"))


def test_an_unknown_number_of_a_rule_suggests_the_near_one() -> None:
    with pytest.raises(RuleError, match="lowest_hz"):
        parse(GOOD).with_numbers({"lowest": 3.0})


class TestFolders:
    def test_a_house_page_replaces_a_built_in_one(self, tmp_path: Path) -> None:
        (tmp_path / "low.md").write_text(GOOD.replace("no-low-notes", "too-low"), encoding="utf-8")
        book = {r.name: r for r in read_book([tmp_path])}
        assert book["too-low"].origin == "house"
        assert book["off-root"].origin == "built in"
        assert book["off-root"].family == "harmony"

    def test_the_folder_names_the_family(self, tmp_path: Path) -> None:
        (tmp_path / "room").mkdir()
        (tmp_path / "room" / "low.md").write_text(GOOD, encoding="utf-8")
        assert [r.family for r in read_folder(tmp_path, "house")] == ["room"]

    def test_two_pages_of_one_name_are_an_error(self, tmp_path: Path) -> None:
        for name in ("a.md", "b.md"):
            (tmp_path / name).write_text(GOOD, encoding="utf-8")
        with pytest.raises(RuleError, match=r"b\.md.*also in .*a\.md"):
            read_folder(tmp_path, "house")

    def test_a_long_page_is_not_read(self, tmp_path: Path) -> None:
        (tmp_path / "long.md").write_text(GOOD + "x" * MAX_PAGE_BYTES, encoding="utf-8")
        with pytest.raises(RuleError, match="longer than"):
            read_folder(tmp_path, "house")

    def test_too_many_pages_are_not_read(self, tmp_path: Path) -> None:
        for i in range(MAX_PAGES + 1):
            (tmp_path / f"{i}.md").touch()
        with pytest.raises(RuleError, match="more than"):
            read_folder(tmp_path, "house")

    def test_no_other_file_is_reached_by_a_link(self, tmp_path: Path) -> None:
        outside = tmp_path / "outside"
        outside.mkdir()
        (outside / "page.md").write_text(GOOD, encoding="utf-8")
        inside = tmp_path / "inside"
        inside.mkdir()
        (inside / "page.md").symlink_to(outside / "page.md")
        (inside / "folder").symlink_to(outside, target_is_directory=True)
        assert read_folder(inside, "house") == []

    def test_bytes_that_are_no_text(self, tmp_path: Path) -> None:
        (tmp_path / "page.md").write_bytes(b"+++\n\xff\xfe\n+++\n")
        with pytest.raises(RuleError, match="cannot be read"):
            read_folder(tmp_path, "house")

    def test_a_cause_must_exist_and_not_go_in_circles(self, tmp_path: Path) -> None:
        page = tmp_path / "low.md"
        page.write_text(GOOD.replace("needs", 'because = ["of-root"]\nneeds'), encoding="utf-8")
        with pytest.raises(RuleError, match="off-root"):
            read_book([tmp_path])
        circle = GOOD.replace("no-low-notes", "off-root").replace(
            "needs", 'because = ["outside-scale"]\nneeds'
        )
        page.write_text(circle, encoding="utf-8")  # outside-scale is because of off-root
        with pytest.raises(RuleError, match="explains itself away"):
            read_book([tmp_path])

    def test_a_plug_in_is_not_loaded_unless_it_is_installed_and_named(self) -> None:
        with pytest.raises(RuleError, match="not installed"):
            read_book(plug_ins=["no-such-plug-in"])


@pytest.mark.parametrize("subject", SUBJECTS)
def test_readings_document_themselves(subject: str) -> None:
    """A house rule is written without reading the source: unit, meaning and source are there."""
    known = registered(subject)  # type: ignore[arg-type]  # SUBJECTS holds the literals
    assert known
    for reading in known.values():
        assert reading.unit and reading.source
        assert reading.meaning.endswith((".", "?")), reading.name
        assert len(reading.meaning.split()) >= 4, reading.name
        assert re.fullmatch(r"[a-z][a-z0-9_]*", reading.name)
