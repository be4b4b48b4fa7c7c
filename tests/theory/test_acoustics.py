"""Is the level of a sound that is still heard the one that the rule page states?"""

from __future__ import annotations

from basslint.rulebook.loader import read_book
from basslint.theory.acoustics import STILL_HEARD_DB


def test_the_page_of_late_slides_asks_for_the_same_level() -> None:
    (page,) = (rule for rule in read_book() if rule.name == "slide-after-decay")
    assert page.numbers["floor_db"] == STILL_HEARD_DB
