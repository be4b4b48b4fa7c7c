"""Which of two sides lies off where a bass and one part are apart? Others are asked both ways."""

from __future__ import annotations

import pytest
from beats import heard

from basslint.hear.bassline.which_is_off import hear_which_is_off

# The lead goes with the bass; in the second song every bar of it holds a tone of the pad as well.
SUB = "sub | G1:2x2 | D2:2x2 | A#1:2x2 | G1:2x2 |*8\n"
PAD = "pad | A3+E4:4 | E3+B3:4 | C4+G4:4 | A3+E4:4 |*8\n"  # a tone above the bass
APART = "lead | G4:2 D5:2 | D5:2 A4:2 | A#4:2 F5:2 | G4:2 D5:2 |*8\n"
BOTH = "lead | G4:2 E5:2 | D5:2 B4:2 | A#4:2 G5:2 | G4:2 E5:2 |*8\n"


@pytest.mark.parametrize(
    ("lead", "side", "agree"),
    [
        (APART, "others", False),  # the pad lies off both: they ask it to come down
        (BOTH, "unknown", True),  # the lead goes with either, so that nothing lies off
    ],
)
def test_one_part_that_a_lead_goes_with_lies_off_nothing(lead: str, side: str, agree: bool) -> None:
    chart = heard(f"tempo 120\n{lead}{PAD}{SUB}")
    names = [part.name for part in chart.song.parts]
    bass = chart.notes.take(chart.song.rows_of([names.index("sub")]))
    told = hear_which_is_off(
        bass,
        -2,
        [names.index("lead"), names.index("pad")],
        lambda part: chart.notes.take(chart.song.rows_of([part])),
        chart.song.grid,
        False,
    )
    assert (told.side, told.agree) == (side, agree)
    assert told.divided(whole=True) is agree
