"""What a finding says of its row: numbers in words, places, bytes, and one fix for several rows.

Readings are made up, so that each value is known; at 120 beats a minute a quarter lasts half a
second (Standard MIDI Files 1.0).
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from beats import heard

from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging import messages
from basslint.judging.hits import Hit
from basslint.judging.messages import Told, places
from basslint.judging.results import Finding
from basslint.readings import base
from basslint.readings.columns import Columns
from basslint.rulebook.model import Case, Cases, Condition, Parameter, Rule
from basslint.util.records import replace

CHART = heard("tempo 120\nmeter 6/8\nsub | A1:1 F#1:2 | C2:3 |\nkeys | A3+E4:3 |*2\n")
ASKED = Condition("made", "not", (None,))
CASE = Case(conditions=(ASKED,), level="error", message="Off.", fix=None)
RULE = Rule(
    name="made-up",
    family="harmony",
    level="error",
    judges="bass-note",
    summary="",
    cases=Cases((CASE,)),
    needs=(),
    because=(),
    parameters=(Parameter("least", 0.25, "beats", ""),),
    body="",
    path="",
    origin="built in",
)


def hit(row: int = 0, case: Case = CASE, more: tuple[int, ...] = (), rule: Rule = RULE) -> Hit:
    return Hit(
        rule=rule, case=case, row=row, certainty=0.9, notes=(row,), explains=(row,), more=more
    )


def found(*hits: Hit, chart: Chart = CHART, in_full: bool = True) -> list[Finding]:
    return Told(Columns(chart), hits, in_full).findings()


@pytest.fixture(autouse=True)
def _made(monkeypatch: pytest.MonkeyPatch) -> None:
    reads_of("", monkeypatch)


def reads_of(value: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the reading ``made`` of bass notes give this value of the second note, else nothing."""
    kind = {float: np.float64, bool: np.bool_}.get(type(value), object)  # by its very type
    column = np.array([False if kind is np.bool_ else np.nan, value, np.nan], dtype=kind)
    reading = SimpleNamespace(column=lambda chart: column, of_rows=None)
    monkeypatch.setitem(base.registered("bass-note"), "made", reading)


@pytest.mark.parametrize(
    ("value", "words", "plain"),
    [
        (2.0, "2", 2.0),
        (20.0, "20", 20.0),
        (1.5, "1.5", 1.5),
        (0.1 + 0.2, "0.3", 0.1 + 0.2),
        (-0.5, "-0.5", -0.5),
        (99.994, "99.99", 99.994),  # three figures and more say enough without decimals:
        (100.4, "100", 100.4),
        (123.4, "123", 123.4),
        (-123.4, "-123", -123.4),
        (100.0, "100", 100.0),
        (float("nan"), "unknown", None),
        (True, "yes", True),
        (False, "no", False),
        (None, "unknown", None),
        (np.True_, "yes", True),
        (np.float64(2.0), "2", 2.0),
        ("F#1", "F#1", "F#1"),
    ],
)
def test_values_in_words(
    value: object, words: str, plain: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads_of(value, monkeypatch)
    (told,) = found(hit(1, replace(CASE, message="it is {made}")))
    assert told.message == f"It is {words}."
    assert told.readings == (("made", plain),)
    assert type(told.readings[0][1]) is type(plain)  # no numpy in reports


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lies low", "Lies low."),
        ("Lies low.", "Lies low."),
        ("lies low!", "Lies low!"),
        ("does it lie low?", "Does it lie low?"),
        ("lasts {length} beats, {least} at least", "Lasts 4 beats, 0.25 at least."),
        ("{note_name} and {part_name}", "F#1 and sub."),
    ],
)
def test_texts_of_pages(text: str, said: str) -> None:
    assert found(hit(1, replace(CASE, message=text)))[0].message == said


def test_only_the_text_of_a_part_keeps_room_for_a_count() -> None:
    rule = replace(RULE, per_part="{count} notes of {part_name}")
    told = Told(Columns(CHART), [hit(rule=rule)])
    assert rule.per_part is not None
    assert told.message(rule.per_part, 0) == "{count} notes of sub."
    counted = replace(rule, parameters=(Parameter("count", 3.0, "notes", ""),))
    assert Told(Columns(CHART), [hit(rule=counted)]).message("{count} of them", 0) == "3 of them."


def test_a_finding_tells_the_note_with_its_bytes_and_place() -> None:
    """The first note of the file is a note like any other."""
    first, second, third = found(hit(0), hit(1), hit(2))
    for told, key in ((first, 33), (second, 30), (third, 36)):
        assert told.pitch == key and told.byte is not None and told.byte_length is not None
        event = CHART.song.scan.data[told.byte : told.byte + told.byte_length]
        assert event[-2] == key and len(event) in (2, 3)
    assert [f.where.bar for f in (first, second, third)] == [1, 1, 2]
    assert [f.where.beat for f in (first, second, third)] == [1.0, 3.0, 1.0]
    assert [f.where.end_time_s for f in (first, second, third)] == [0.5, 1.5, 3.0]
    assert [(f.part and f.part.name, f.whole) for f in (first, second, third)] == [
        ("sub", False)
    ] * 3


def test_what_is_told_of_a_song_has_no_note_and_no_part() -> None:
    case = replace(CASE, conditions=(Condition("bass_parts", "not", (None,)),), message="off")
    (told,) = found(hit(0, case, rule=replace(RULE, judges="song")))
    assert (told.pitch, told.byte, told.byte_length, told.part) == (None, None, None, None)
    assert told.whole


def test_places_are_told_in_bars_beats_and_seconds() -> None:
    tick = np.array([0, 480, 1440, 2880 - 240])
    told = places(CHART, tick, tick + 240)
    assert [(w.tick, w.end_tick) for w in told] == [(t, t + 240) for t in tick.tolist()]
    assert [(w.bar, w.beat, w.beats) for w in told] == [(1, 1, 6), (1, 3, 6), (2, 1, 6), (2, 6, 6)]
    assert [(w.time_s, w.end_time_s) for w in told] == [(0, 0.25), (0.5, 0.75), (1.5, 1.75),
                                                      (2.75, 3.0)]  # fmt: skip


def test_rows_that_are_told_with_another_stand_in_order_of_time() -> None:
    (told,) = found(hit(1, more=(2, 0)))
    assert [w.tick for w in told.also] == [0, 1440]
    assert found(hit(1))[0].also == ()


def fix(kind: FixKind, *ticks: int) -> Fix:
    edits = [Edit(do="remove", track=0, channel=1, tick=tick, end_tick=tick + 1, before=33,
                  after=None) for tick in ticks]  # fmt: skip
    return Fix("Take it out", kind, tuple(edits))


SAFE, EAR, OTHER = fix("safe", 0), fix("by-ear", 1, 2), fix("safe", 1, 3)


@pytest.mark.parametrize(
    ("fixes", "title", "kind", "ticks"),
    [
        ([SAFE], "Take it out", "safe", [0]),
        ([SAFE, OTHER], "Take it out, in both places", "safe", [0, 1, 3]),
        ([SAFE, EAR], "Take it out, in both places", "by-ear", [0, 1, 2]),
        ([SAFE, EAR, OTHER], "Take it out, in all 3 places", "by-ear", [0, 1, 2, 3]),
        ([EAR, EAR], "Take it out, in both places", "by-ear", [1, 2]),
        ([SAFE, None], None, None, []),  # all or none
        ([None], None, None, []),
    ],
)
def test_one_fix_mends_all_rows_of_a_finding_or_none(
    fixes: list[Fix | None],
    title: str | None,
    kind: FixKind | None,
    ticks: list[int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = SimpleNamespace(build=lambda chart, row, numbers: fixes[row])
    monkeypatch.setattr(messages, "fix_named", {"made": made}.__getitem__)
    case = replace(CASE, message="off", fix="made")
    (told,) = found(hit(0, case, tuple(range(1, len(fixes)))))
    if told.fix is None:
        assert title is None
    else:
        assert (told.fix.title, told.fix.kind) == (title, kind)
        assert [edit.tick for edit in told.fix.edits] == ticks


@pytest.mark.parametrize(
    ("in_full", "per_part", "mended"),
    [(True, None, True), (False, None, False), (False, "{count} notes", True)],
)
def test_without_details_a_fix_is_sought_only_where_it_decides_what_is_told_as_one(
    in_full: bool, per_part: str | None, mended: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = SimpleNamespace(build=lambda chart, row, numbers: SAFE)
    monkeypatch.setattr(messages, "fix_named", {"made": made}.__getitem__)
    rule = replace(RULE, per_part=per_part)
    case = replace(CASE, message="off", fix="made", sure="slip_chance")
    (told,) = found(hit(0, case, rule=rule), in_full=in_full)
    assert (told.fix is not None) is mended
    assert bool(told.evidence) is in_full


@pytest.mark.parametrize(
    ("sure", "asked", "by"),
    [
        ("slip_chance", "figure_slip_chance", "slip_chance"),  # what says how sure it is
        (None, "slip_chance", "slip_chance"),  # else the first one asked for
        (None, "length", None),
        ("change_certainty", "length", None),
    ],
)
def test_the_evidence_is_that_of_the_chance_a_case_goes_by(
    sure: str | None, asked: str, by: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked_for: list[tuple[str, list[int]]] = []

    def of_rows(chart: Chart, name: str, rows: list[int]) -> list[tuple[int, ...]]:
        asked_for.append((name, rows))
        return [(row,) for row in rows]

    monkeypatch.setattr(messages, "evidence_of", of_rows)
    conditions = (ASKED, Condition(asked, "above", ("least",)))
    case = replace(CASE, message="off", sure=sure, conditions=conditions)
    told = found(hit(2), hit(1, case), hit(0, case))
    assert asked_for == ([(by, [1, 0])] if by else [])  # of all hits at once
    assert [f.evidence for f in told] == [(), (1,) if by else (), (0,) if by else ()]


def test_a_text_that_holds_nothing_but_an_empty_reading_is_no_fault(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    reads_of("", monkeypatch)
    assert found(hit(1, replace(CASE, message="{made}")))[0].message == "."


def test_parts_of_one_name_are_told_apart() -> None:
    song = heard("tempo 120\nsub | A1:1x3 .:1 |\nkeys | A3+E4:4 |\n").song
    twins = replace(song, parts=(song.parts[0], replace(song.parts[1], name="sub")))
    for each, shared in ((song, False), (twins, True)):
        (told,) = found(hit(), chart=Chart(each, Facts()))
        assert told.part is not None and told.part.shared is shared
