"""Which hits are told as one, which speak for others, and of which notes each of them speaks.

The columns and charts are made up: rows of notes are numbers that stand for themselves. One cause
is told once (rules of the project, see DEVELOPERS.md).
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from basslint.hear.bassline.displacement import Displacements
from basslint.judging.hits import (
    SURE_BASS,
    Hit,
    as_said,
    hit_of,
    joined_rows,
    one_per_figure,
    without_echoes,
)
from basslint.readings.subjects import Subject
from basslint.rulebook.model import Case, Cases, Level, Rule


def case(level: Level = "error", as_one: str | None = None) -> Case:
    return Case(conditions=(), level=level, message="Off.", fix=None, as_one=as_one)


def rule(name: str = "off", judges: Subject = "bass-note", because: str = "") -> Rule:
    return Rule(
        name=name,
        family="harmony",
        level="error",
        judges=judges,
        summary="",
        cases=Cases((case(),)),
        needs=(),
        because=tuple(because.split()),
        parameters=(),
        body="",
        path="",
        origin="built in",
    )


def hit(of: Rule, level: Level, notes: tuple[int, ...], explains: tuple[int, ...] = ()) -> Hit:
    return Hit(
        rule=of, case=case(level), row=0, certainty=1.0, notes=notes, explains=explains or notes
    )


A, B = rule("a"), rule("b", because="a")
Told = tuple[Level, tuple[int, ...]]


@pytest.mark.parametrize(
    ("causes", "echoes", "kept"),
    [
        ([("error", (1,))], [("error", (1,))], ([0], [])),  # a explains b away
        ([("error", (2,))], [("error", (1,))], ([0], [0])),  # another note
        ([("note", (1,))], [("note", (1,))], ([0], [])),
        ([("note", (1,))], [("warning", (1,))], ([], [0])),  # the louder one speaks for both
        ([("note", (1, 2))], [("error", (1,))], ([], [0])),  # … also for a note of several
        ([("note", (1,)), ("note", (3,))], [("error", (1,))], ([1], [0])),
        # told once loudly, a note is explained, whatever else is said of it, and in which order
        ([("error", (1,)), ("note", (1,))], [("error", (1,))], ([0, 1], [])),
        ([("note", (1,)), ("error", (1,))], [("error", (1,))], ([0, 1], [])),
        # one loud cause of several is enough
        ([("error", (1,)), ("note", (2,))], [("error", (1, 2))], ([0, 1], [])),
        ([("note", (1,)), ("note", (2,))], [("error", (1, 2))], ([], [0])),
    ],
)
def test_one_cause_is_told_once(
    causes: list[Told], echoes: list[Told], kept: tuple[list[int], list[int]]
) -> None:
    hits = {"a": [hit(A, *told) for told in causes], "b": [hit(B, *told) for told in echoes]}
    left = without_echoes(hits)
    assert [[hits[name].index(one) for one in left[name]] for name in "ab"] == list(kept)


def test_a_slide_explains_only_the_note_it_lands_on() -> None:
    slide = hit(A, "error", (1, 2), (1,))
    assert without_echoes({"a": [slide], "b": [hit(B, "error", (2,))]})["b"]


def stub(judges: Subject, **columns: list[float]) -> Any:
    """Columns by name; ``tick`` and ``end_tick`` are of the rows."""
    arrays = {name: np.array(values) for name, values in columns.items()}
    return SimpleNamespace(
        rows=lambda _: SimpleNamespace(**arrays), column=lambda _, name: arrays[name]
    )


@pytest.mark.parametrize(
    ("figure", "ends", "joined"),
    [
        ([1, 1, 1, 1], [10, 5, 6, 4], [(1, (0, 2, 3))]),  # the longest speaks, the first of equals
        ([1, 2, 1, 2], [10, 5, 6, 5], [(2, (0,)), (3, (1,))]),
    ],
)
def test_rows_of_one_figure_are_told_by_the_longest(
    figure: list[float], ends: list[float], joined: list[tuple[int, tuple[int, ...]]]
) -> None:
    columns = stub("bass-note", tick=[9, 2, 4, 1], end_tick=ends, figure=figure)
    rows = np.arange(4)
    assert joined_rows(columns, rule(), case(as_one="figure"), rows) == joined
    assert joined_rows(columns, rule(), case(), rows) == [(row, ()) for row in range(4)]


def flagged(
    row: int,
    level: Level,
    certainty: float,
    more: tuple[int, ...] = (),
    as_one: str | None = "mine",
) -> Hit:
    return Hit(
        rule=rule(judges="slide"),
        case=case(level, as_one),
        row=row,
        certainty=certainty,
        notes=(row, row + 10),
        explains=(row,),
        more=more,
    )


COLUMNS = stub("slide", mine=[7, 7, 8, 7, 7], other=[7, 7, 7, 7, 7])


@pytest.mark.parametrize(
    ("hits", "leads"),
    [
        ([flagged(0, "note", 0.9), flagged(1, "error", 0.8)], [1]),  # the loudest of equals,
        ([flagged(0, "note", 0.8, (3,)), flagged(1, "error", 0.9)], [0]),  # else the most of them
        ([flagged(0, "error", 0.9), flagged(2, "error", 0.9)], [0, 2]),  # another figure
        ([flagged(0, "error", 0.9), flagged(1, "error", 0.9, as_one="other")], [0, 1]),
        ([flagged(0, "error", 0.9, as_one=None), flagged(1, "error", 0.9, as_one=None)], [0, 1]),
    ],
)
def test_the_copies_of_a_figure_that_several_cases_flag_are_one_hit(
    hits: list[Hit], leads: list[int]
) -> None:
    assert [one.row for one in one_per_figure(COLUMNS, rule(judges="slide"), hits)] == leads
    assert one_per_figure(COLUMNS, rule(), hits) == hits  # of bass notes each stands for itself


def test_a_figure_is_as_sure_as_its_least_sure_copy_and_speaks_of_all_notes() -> None:
    hits = [flagged(0, "warning", 0.8, (3,)), flagged(1, "error", 0.9), flagged(4, "note", 0.7)]
    (one,) = one_per_figure(COLUMNS, rule(judges="slide"), hits)
    assert (one.row, one.case.level, one.certainty, one.more) == (0, "warning", 0.7, (3, 1, 4))
    assert (one.notes, one.explains) == ((0, 10, 1, 11, 4, 14), (0, 1, 4))


UNSURE = "Off. It is not sure that this part is the bass: name the bass with --bass."
RIVAL = "Off. Part #4 is as likely the bass as this one: name the bass with --bass."


@pytest.mark.parametrize(
    ("level", "certainty", "stated", "rival", "told"),
    [
        ("error", SURE_BASS, False, -1, ("error", "Off.")),
        ("error", SURE_BASS - 0.01, False, -1, ("note", UNSURE)),
        ("error", SURE_BASS - 0.01, True, -1, ("error", "Off.")),
        ("error", 1.0, False, 0, ("note", RIVAL)),
        ("error", SURE_BASS - 0.01, False, 0, ("note", RIVAL)),
        ("error", 1.0, True, 0, ("error", "Off.")),
        ("note", SURE_BASS - 0.01, False, -1, ("note", "Off.")),  # accuses nobody as it is
    ],
)
def test_how_an_unsure_bass_is_told(
    level: Level, certainty: float, stated: bool, rival: int, told: tuple[str, str]
) -> None:
    parts = SimpleNamespace(
        bass=(1, 0), certainty=[0.0, certainty], stated=[not stated, stated], rival=rival
    )
    song = SimpleNamespace(parts=[SimpleNamespace(number=4), SimpleNamespace(number=5)])
    columns: Any = SimpleNamespace(chart=SimpleNamespace(parts=parts, song=song))
    said = as_said(case(level), columns)
    assert (said.level, said.message) == told


# Six bass notes, rows 10 to 15 of the song, a tick apart, those of two parts in turn.
CHART = SimpleNamespace(
    bass=SimpleNamespace(part=np.arange(6) % 2, start=np.arange(6)),
    bass_rows=np.arange(10, 16),
    slides=SimpleNamespace(source_note=np.array([8, 9])),
    fills=SimpleNamespace(notes=([1, 2, 3], [4, 5])),
    two_keys=SimpleNamespace(foreign=(np.array([0, 3]), np.array([4]))),
    displacements=Displacements(
        part=np.array([0, 1, 0]),
        start=np.array([0, 1, 2]),
        end=np.array([5, 6, 4]),
        ticks=np.array([480, 480, 120]),
        step=np.array([2, 2, 4]),
        certainty=np.ones(3),
        support=np.ones(3),
        extent=np.array([0, 0, 1]),
    ),
    shifts=SimpleNamespace(start=np.array([0, 2]), end=np.array([4, 5]), part=np.array([0, 1])),
)


@pytest.mark.parametrize(
    ("judges", "row", "notes", "explains"),
    [
        ("bass-note", 0, (0,), None),
        ("bass-note", 1, (7,), None),
        ("song", 2, (), None),  # it speaks of no note
        ("slide", 1, (7, 9), (7,)),
        ("fill", 0, (1, 2, 3), None),
        ("lag", 0, (10, 12, 14), None),  # all of its part
        ("displacement", 1, (11, 13, 15), None),
        ("displacement", 2, (12,), None),  # of a stretch those that begin in it
        ("high-part", 0, (10, 12, 14), None),
        ("part-key", 0, (10, 13), None),
        ("stretch", 0, (10, 12), None),  # those of its part that begin in it, none at its end
        ("stretch", 1, (13,), None),
    ],
)
def test_the_notes_that_a_hit_speaks_of(
    judges: Subject, row: int, notes: tuple[int, ...], explains: tuple[int, ...] | None
) -> None:
    rows = SimpleNamespace(note=np.array([0, 7, -1]), part=np.array([0, 1, 0]))
    columns: Any = SimpleNamespace(chart=CHART, rows=lambda _: rows)
    found = hit_of(rule(judges=judges), case(), columns, row, 0.9)
    assert (found.notes, found.explains) == (notes, notes if explains is None else explains)
    assert (found.row, found.certainty, found.more) == (row, 0.9, ())


def test_a_hit_speaks_of_the_notes_of_all_rows_that_are_told_with_it() -> None:
    columns: Any = SimpleNamespace(
        chart=CHART, rows=lambda _: SimpleNamespace(note=np.array([5, 7, 6]), part=np.zeros(3))
    )
    found = hit_of(rule(judges="slide"), case(), columns, 1, 0.9, (0,))
    assert (found.notes, found.explains, found.more) == ((7, 9, 5, 8), (7, 5), (0,))
