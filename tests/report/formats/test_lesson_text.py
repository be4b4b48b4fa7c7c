"""Rule pages and the catalogue in the terminal, on the built-in book."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import pytest
from page_songs import tea_report
from report_book import BODY, rule
from report_cases import (
    full_report,
)

from basslint.judging.results import Unjudged
from basslint.readings.base import SUBJECTS, registered
from basslint.readings.needs import FACTS
from basslint.report.drawing.marks import percent
from basslint.report.formats.catalogue import print_readings, print_rules, readings_json, rules_json
from basslint.report.formats.lesson_text import print_page
from basslint.rulebook.loader import read_book

BOOK = read_book()


def page(shown, report=None, width=80, encoding="utf-8"):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    print_page(shown, stream, report, width=width)
    stream.flush()
    return raw.getvalue().decode(encoding)


@pytest.mark.parametrize("shown", BOOK, ids=lambda r: r.name)
def test_every_example_of_every_page_is_drawn(shown):
    text = page(shown)
    assert len(re.findall(r"^ {4,}beat\b(?! [a-z])", text, re.M)) == len(shown.examples)
    assert "```" not in text and "+++" not in text
    assert max(len(line) for line in text.splitlines()) <= 80
    for title in re.findall(r"^## (.+)$", shown.body, re.M):
        assert f"\n{title}\n" in text
    for parameter in shown.parameters:
        assert f"{parameter.name} = " in text


@pytest.mark.parametrize(("width", "encoding"), [(40, "utf-8"), (80, "ascii")])
def test_pages_fit_narrow_terminals_and_poor_streams(width, encoding):
    for shown in BOOK[:3]:
        text = page(shown, width=width, encoding=encoding)
        assert max(len(line) for line in text.splitlines()) <= width


def test_the_flagged_example_is_marked_with_its_message_and_fix():
    off_root = next(r for r in BOOK if r.name == "off-root")
    flagged = page(off_root).split("A flagged example")[1].split("A clean example")[0]
    assert "× F#1" in flagged and "◇ F1" in flagged
    assert "the root is F." in flagged and "fix  Move F#1 to F1" in flagged
    clean = page(off_root).split("A clean example")[1].split("Sources")[0]
    assert "×" not in clean and "◇" not in clean


@pytest.mark.parametrize("shown", BOOK, ids=lambda r: r.name)
def test_what_is_heard_and_its_examples_come_before_the_numbers(shown):
    text = page(shown)
    numbers = text.index("\nWhat it goes by\n")
    assert text.rindex("\n       beat ") < numbers < text.index("\n  judges ")
    assert all(numbers < text.index(f"\n  {each.name} = ") for each in shown.parameters)


def test_the_page_says_what_is_judged_and_needed():
    text = page(rule(because=("stuck-note",)))
    assert text.startswith("● error  off-root · harmony · built in\n")
    assert "judges every bass note" in text
    least = percent(FACTS["root"].least)
    assert f"needs the chord's root under the row, {least} sure" in text
    assert "silent where stuck-note already speaks of the note" in text
    assert "least_beats = 0.5 (beats): Shorter notes pass by." in text


def test_a_word_is_said_once():
    text = page(rule("of-ours", "house", origin="house", summary="It ends here."))
    assert text.startswith("● error  of-ours · house\n")
    assert "It ends here.\n" in text


def test_a_page_without_headings_or_examples_is_prose():
    text = page(rule(body="Only *words*.\n"))
    assert "  Only words.\n" in text
    assert "leans" in page(rule(body=BODY))


def test_applied_to_a_song_it_tells_findings_with_their_readings():
    file = full_report().files[0]
    whole = page(rule(), file)
    assert whole.startswith("beats/night-bus.mid\n")  # the reader's own notes first
    text = whole.split("● error  off-root · harmony")[0]
    assert "bars 5 and 13, beat 1" in text and "× F#1" in text
    assert "semitones_above_root = 2 semitones" in text and "in_chord = no" in text
    assert "no-meter" not in text  # another rule's
    assert "off-root, bars 1–2 and 9: no harmony sounds here" in text
    clean = page(rule("too-high"), replace(file, unjudged=()))
    assert "nothing is off by this rule" in clean
    assert "could not be read: Track 1" in page(rule(), full_report().files[2])
    bars = file.chart.song.grid.bars
    for end, told in ((bars + 1, "this rule did not judge the song"), (bars, "nothing is off")):
        silent = Unjudged("too-high", 1, end, "no bass part was found")
        text = page(rule("too-high"), replace(file, unjudged=(silent,))).split("● error")[0]
        assert f"\n  {told}" in text and text.count("nothing is off") == (end == bars)


def test_a_share_is_a_percentage_as_on_the_page():
    """It read "slip_chance = 1 share"."""
    off_root = next(r for r in BOOK if r.name == "off-root")
    assert "\n  slip_chance = 99 %  How likely" in page(off_root, tea_report())


def catalogue(show, **more):
    stream = io.StringIO()
    show(stream, **more) if show is print_readings else print_rules(BOOK, stream, **more)
    return stream.getvalue()


@pytest.mark.parametrize("width", [40, 80])
def test_the_catalogue_lists_every_rule_with_its_origin(width):
    text = catalogue(print_rules, width=width)
    for known in BOOK:
        assert known.name in text
    assert "built in" not in text  # it is the same of all
    stream = io.StringIO()
    print_rules([*BOOK, rule("of-ours", "house", origin="house")], stream, width=200)
    assert stream.getvalue().count("(built in)") == len(BOOK)
    assert stream.getvalue().count("(house)") == 1
    assert max(len(line) for line in text.splitlines()) <= width


@pytest.mark.parametrize("width", [40, 80])
def test_the_readings_are_listed_by_subject_with_unit_and_meaning(width):
    text = catalogue(print_readings, width=width)
    for subject in SUBJECTS:
        assert f"readings of a {subject.replace('-', ' ')}\n" in text
        for name in registered(subject):
            assert name in text
    assert "\nfixes\n" in text and "note-to-root" in text
    assert "facts that a rule may need" in text
    assert max(len(line) for line in text.splitlines()) <= width


def test_the_catalogue_as_json():
    told = json.loads(rules_json(BOOK))
    assert told["schema"] == "basslint-rules/1"
    assert [r["name"] for r in told["rules"]] == [r.name for r in BOOK]
    assert {"family", "level", "summary", "judges", "origin"} <= set(told["rules"][0])
    readings = json.loads(readings_json())
    assert readings["schema"] == "basslint-readings/1"
    assert len(readings["readings"]) == sum(len(registered(s)) for s in SUBJECTS)
    assert all(r["unit"] and r["meaning"] and r["source"] for r in readings["readings"])
