"""What reports look like, byte for byte; ``tests/golden/rebuild.py`` writes the files anew."""

from __future__ import annotations

import pytest
from golden.rebuild import HERE, OUTPUTS


@pytest.mark.parametrize("name", OUTPUTS)
def test_a_report_looks_as_it_did(name):
    assert OUTPUTS[name]() == (HERE / name).read_text(encoding="utf-8")
