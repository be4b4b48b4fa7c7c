"""What all tests share."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

# One profile for the quick suite, one for a long search by hand: HYPOTHESIS_PROFILE=long pytest …
settings.register_profile(
    "quick", max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "long", max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))

# A shell starts what it runs in the background deaf to interrupts, and its children are deaf too:
# tests that interrupt a command must give it its ears back.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

CHROMIUM = shutil.which("chromium")


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """A real browser, for the tests of pages."""
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("CI must have chromium; see .ci/browser")
        pytest.skip("no chromium here; Debian's package `chromium` brings it")
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as engine:
        chromium = engine.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"],
        )
        yield chromium
        chromium.close()
