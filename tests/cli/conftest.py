"""What the tests of the command line share."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each test has a cache of its own, so that none is answered by another's run."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
