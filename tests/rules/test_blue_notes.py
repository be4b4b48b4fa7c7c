"""A short blue note that resolves is let be; one that stands, or goes nowhere, is not.

Common practice, no source; blue notes: Open Music Theory.
"""

from __future__ import annotations

import pytest
from beats import judged

from basslint.rulebook.loader import read_book

BOOK = read_book()
MINOR = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8"
MAJOR = "keys | C3+E3+G3:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8"
REST = "F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*8"


@pytest.mark.parametrize(
    ("keys", "bar", "told"),
    [
        (MINOR, "A1:2 D#2:.5 D2:.5 C2:.5 A1:.5", []),  # the lowered fifth, down
        (MINOR, "A1:2 D#2:.5 E2:.5 C2:.5 A1:.5", []),  # and up
        (MAJOR, "C2:2 D#2:.5 E2:.5 G2:.5 C2:.5", []),  # the third of a major key
        (MINOR, "A1:2 D#2:.5 A1:1 .:.5", ["off-root"]),  # goes nowhere
        (MINOR, "A1:2 D#2:1 D2:1", ["off-root"]),  # stands
        (MINOR, "D#2:.5 E2:.5 A1:2.5 .:.5", ["off-root"]),  # on the bar line
    ],
)
def test_a_blue_note_in_every_loop_is_excused_where_it_resolves(
    keys: str, bar: str, told: list[str]
) -> None:
    found = judged(f"tempo 140\n{keys}\nsub | {bar} | {REST}", BOOK).findings
    assert [f.rule for f in found if f.family == "harmony" and f.level != "note"] == told
