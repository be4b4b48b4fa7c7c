"""Are levels and limits that the code goes by the ones that the rule pages state?"""

from __future__ import annotations

import pytest

from basslint.rulebook.loader import read_book
from basslint.theory.acoustics import CARRIED_HZ, STILL_HEARD_DB


@pytest.mark.parametrize(
    ("name", "number", "value"),
    [
        ("slide-after-decay", "floor_db", STILL_HEARD_DB),
        ("too-low", "lowest_hz", CARRIED_HZ),
    ],
)
def test_the_page_states_the_same_number(name: str, number: str, value: float) -> None:
    (page,) = (rule for rule in read_book() if rule.name == name)
    assert page.numbers[number] == value
