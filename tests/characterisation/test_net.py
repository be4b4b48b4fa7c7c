"""Is what is heard and found in many files still what it was? Names the questions that changed."""

from __future__ import annotations

import pytest
from characterisation.net import (
    DATA,
    Case,
    Digest,
    cases,
    changed,
    data_folder,
    digests,
    read_store,
)

STORED = read_store()
CASES = cases(STORED)
REBUILD = "if that is meant: python tests/characterisation/rebuild.py"


def test_every_file_is_in_the_net() -> None:
    assert {case.name for case in CASES} == set(STORED), REBUILD
    assert sum(case.needs_data for case in CASES) >= 25


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_what_is_heard_and_found_is_what_it_was(case: Case) -> None:
    if case.needs_data and data_folder() is None:
        pytest.skip(f"the data is neither beside the checkout nor named by {DATA}")
    other = changed(STORED[case.name], digests(*case.read()))
    assert not other, f"{case.name} is answered otherwise: {', '.join(other)}; {REBUILD}"


@pytest.mark.parametrize(
    ("now", "like"),
    [
        (Digest("a", 10.0004, 2.0), True),  # the last bits
        (Digest("a", 10.01, 2.0), False),  # one certainty by a hundredth
        (Digest("a", 10.0, 2.01), False),  # two values that changed places
        (Digest("b", 10.0, 2.0), False),
    ],
)
def test_what_counts_as_the_same(now: Digest, like: bool) -> None:
    assert changed({"roots": Digest("a", 10.0, 2.0)}, {"roots": now}) == ([] if like else ["roots"])
