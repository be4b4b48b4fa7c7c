"""Which stretch of the song does a fix touch, before and after?"""

from __future__ import annotations

import pytest
from made_up_judges import edit, judge, line

from basslint.mending.account import Choice
from basslint.mending.units import units_of
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
