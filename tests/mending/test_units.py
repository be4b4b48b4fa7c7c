"""Which stretch of the song does a fix touch, before and after?"""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_up_judges import edit, judge, line

from basslint.fixes.edits import Fix
from basslint.mending.account import Choice
from basslint.mending.units import BY_EAR, NO_FIX, NOT_CHOSEN, WAIVED, units_of
from basslint.smf.scan import scan
from basslint.song.arrangement import build

RAW = line(36, 41)  # quarters: the second from 480 to 960


@pytest.mark.parametrize(
    ("do", "after", "stretch"),
    [
        ("pitch", 40, (480, 960)),
        ("start", 400, (400, 960)),
        ("end", 1200, (480, 1200)),
        ("move", 600, (480, 1080)),
        ("move", 100, (100, 960)),
        ("remove", None, (480, 960)),
    ],
)
def test_a_fix_reaches_from_where_a_note_was_to_where_it_will_be(
    do: str, after: int | None, stretch: tuple[int, int]
) -> None:
    recheck = judge(
        wrong=lambda song, row: ("error", "safe", (edit(song, row, do, after),)) if row else None
    )
    (unit,), reasons = units_of(build(scan(RAW)), recheck(RAW).findings, Choice())
    assert (unit.start, unit.end) == stretch
    assert not reasons


@pytest.mark.parametrize(
    ("choice", "kind", "why"),
    [
        (Choice(), "safe", None),
        (Choice(), "by-ear", BY_EAR),
        (Choice(by_ear=True), "by-ear", None),
        (Choice(only=frozenset({"wrong"})), "safe", None),
        (Choice(only=frozenset({"other"})), "safe", NOT_CHOSEN),
        (Choice(leave=frozenset({"other"})), "safe", None),
        (Choice(leave=frozenset({"wrong"})), "safe", NOT_CHOSEN),
        (Choice(True, frozenset({"wrong"}), frozenset({"wrong"})), "by-ear", NOT_CHOSEN),
    ],
)
def test_why_a_fix_is_not_applied(choice: Choice, kind: str, why: str | None) -> None:
    song = build(scan(RAW))
    recheck = judge(wrong=lambda song, row: ("error", kind, (edit(song, row, "pitch", 40),)))
    units, reasons = units_of(song, recheck(RAW).findings, choice)
    assert reasons == ({} if why is None else {0: why, 1: why})
    assert [unit.findings for unit in units] == ([(0,), (1,)] if why is None else [])


def test_neither_a_waived_finding_nor_one_without_a_fix_is_mended() -> None:
    recheck = judge(wrong=lambda song, row: ("error", "safe", (edit(song, row, "pitch", 40),)))
    waived, plain = recheck(RAW).findings
    found = [
        waived.waive("meant"),
        replace(plain, fix=None),
        replace(plain, fix=Fix("", "safe", ())),
    ]
    assert units_of(build(scan(RAW)), found, Choice()) == ([], {0: WAIVED, 1: NO_FIX, 2: NO_FIX})
