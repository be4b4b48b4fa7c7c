"""Edits are told as a musician counts: bars, beats, note names of the key, names of drums."""

from __future__ import annotations

import pytest
from beats import heard

from basslint.fixes.edits import Do, Edit
from basslint.report.edit_words import edits_in_words

CHART = heard(
    "tempo 140\nkeys | C4+Eb4+G4:4 | Ab3+C4+Eb4:4 |*4\nsub | C2:4 | Ab1:4 |*4\n"
    "drums | C2 D2 C2 D2 |*8"
)
QUARTER = CHART.song.division
SUB, DRUMS = (
    next(p for p in CHART.song.parts if p.name == name) for name in ("sub", "drums")
)  # fmt: skip


def edit(
    do: Do, before: int | None, after: int | None, pitch: int | None = None, drums: bool = False
) -> Edit:
    part = DRUMS if drums else SUB
    return Edit(
        do=do,
        track=part.track,
        channel=part.channel,
        tick=4 * QUARTER,
        end_tick=8 * QUARTER,
        before=before,
        after=after,
        pitch=pitch,
    )


@pytest.mark.parametrize(
    ("done", "words"),
    [
        (edit("pitch", 33, 32), "A1 becomes Ab1 at bar 2, beat 1"),
        (edit("pitch", 27, 39), "Eb1 becomes Eb2 at bar 2, beat 1"),
        (
            edit("start", 4 * QUARTER, 5 * QUARTER, 32),
            "Ab1 begins at bar 2, beat 2 instead of bar 2, beat 1",
        ),
        (
            edit("end", 8 * QUARTER, 15 * QUARTER // 2, 32),
            "Ab1 ends at bar 2, beat 4.5 instead of bar 3, beat 1",
        ),
        (
            edit("move", 4 * QUARTER, 9 * QUARTER // 2, 38, drums=True),
            "snare moves to bar 2, beat 1.5 from bar 2, beat 1",
        ),
        (edit("insert", None, 36, drums=True), "kick comes in at bar 2, beat 1"),
        (edit("remove", 101, None, drums=True), "key 101 goes at bar 2, beat 1"),
        (edit("velocity", 100, 71, 38, drums=True), "velocity 100 becomes 71 at bar 2, beat 1"),
        (edit("bend", None, 0), "bend none becomes 0 at bar 2, beat 1"),
    ],
)
def test_an_edit_in_words(done: Edit, words: str) -> None:
    assert edits_in_words([done], CHART, 4) == words


def test_a_long_row_is_told_by_its_ends() -> None:
    told = edits_in_words([edit("velocity", 100, 70 + k, 38) for k in range(12)], CHART, 4)
    assert told.count("becomes") == 4
    assert "… 8 more …" in told
    assert "becomes 70 " in told and "becomes 81 " in told


@pytest.mark.parametrize(
    ("many", "told"),
    [
        (1, ["A1"]),
        (6, ["A1", "B1", "C2", "D2", "E2", "F2"]),
        (7, ["A1", "B1", "C2", "… 3 more …", "G2"]),  # a longer row is told by its ends
    ],
)
def test_a_long_row_of_edits_is_told_by_its_ends(many: int, told: list[str]) -> None:
    keys = (33, 35, 36, 38, 40, 41, 43)[:many]
    words = edits_in_words([edit("remove", key, None) for key in keys], CHART, 4)
    assert [part.split(" goes")[0] for part in words.split("; ")] == told
