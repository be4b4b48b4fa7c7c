"""A wrong note gets loud by degrees, not at one length. Common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.periods import periods
from basslint.rulebook.loader import read_book

BOOK = read_book()
KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8"
ROUND = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"


@pytest.mark.parametrize("copies", [1, 8])
@pytest.mark.parametrize(
    ("wrong", "levels"),
    [
        ("F#1:1/4", []),
        ("F#1:.35", ["warning"]),
        ("F#1:.5", ["error"]),
        ("F#1:1.75", ["error"]),
        ("F#1:2", ["error"]),
    ],
)
def test_how_loud_follows_from_the_waves_that_sound(
    wrong: str, levels: list[str], copies: int
) -> None:
    """At 140, F#1 (46.25 Hz) has five periods in a sixteenth and ten in an eighth."""
    bad = f"A1:3.5 .:.5 | {wrong} .:1 | C2:3.5 .:.5 | G1:3.5 .:.5"
    line = f"{bad} |*8" if copies == 8 else f"{bad} || {ROUND} |*7"
    found = judged(f"tempo 140\n{KEYS}\nsub | {line}", BOOK).findings
    assert [f.level for f in found if f.rule == "off-root"] == levels
    assert all(len(f.places) == copies for f in found if f.rule == "off-root")


def test_waves_are_counted_over_the_whole_stand() -> None:
    chart = heard("tempo 120\nkeys | A3+C4+E4:4 |*4\nsub | A1:1 A1:1/4x4 .:2 |*4")
    assert periods(chart)[:5].tolist() == pytest.approx([55.0] * 5)  # A1, 55 Hz (ISO 16): a second
