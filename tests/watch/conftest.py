"""One run of the command that follows a folder, and a page that shows it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from watch_runs import Shown, Watching


@pytest.fixture(scope="session")
def watching(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watching]:
    """One run for all tests that leave it as it was: each saves songs of its own name."""
    made = Watching(tmp_path_factory.mktemp("watch"), "--decay", "1500ms")
    yield made
    assert made.end() == 0


@pytest.fixture
def shown(browser, watching: Watching) -> Iterator[Shown]:
    """A page of the run; it may not complain."""
    made = Shown(browser, watching.address)
    yield made
    made.context.close()
    assert made.complaints == []
