"""JSON that is written quickly is what the standard library writes."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from basslint.report.formats.json_values import indented

PLAIN = some.none() | some.booleans() | some.integers() | some.floats(allow_nan=False) | some.text()
VALUES = some.recursive(
    PLAIN.filter(lambda v: not (isinstance(v, float) and math.isinf(v))),
    lambda inner: some.lists(inner) | some.dictionaries(some.text(), inner) | some.tuples(inner),
    max_leaves=20,
)


@given(VALUES)
def test_it_is_what_the_standard_library_writes(value: object) -> None:
    assert indented(value) == json.dumps(value, indent=2, allow_nan=False)


def test_numbers_of_numpy_are_numbers() -> None:
    value = {"share": np.float64(0.1), "all": [np.float64(1e-7)]}
    assert indented(value) == json.dumps(value, indent=2)


@pytest.mark.parametrize("value", [math.nan, math.inf, [-math.inf], {"a": np.float64("nan")}])
def test_what_is_no_number_is_never_written(value: object) -> None:
    with pytest.raises(ValueError, match="JSON"):
        indented(value)


@pytest.mark.parametrize("value", [{1, 2}, object(), {1: 2}, b"x"])
def test_what_json_has_no_word_for_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        indented(value)
