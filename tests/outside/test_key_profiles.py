"""Key profiles, written from memory, against a library that holds the published table."""

from __future__ import annotations

import numpy as np
import pytest
from music21.analysis.discrete import BellmanBudge

from basslint.hear.key.scales import PROFILE_MAJOR, PROFILE_MINOR

MODES = {"major": PROFILE_MAJOR, "minor": PROFILE_MINOR}


@pytest.mark.parametrize("mode", MODES)
def test_profiles_are_shares(mode: str) -> None:
    assert MODES[mode].sum() == pytest.approx(1.0, abs=0.0025)  # the table has three decimals


@pytest.mark.parametrize("mode", MODES)
def test_profiles_are_albrecht_and_shanahans(mode: str) -> None:
    """As amads states them (1.4.0 agrees); no dependency of the tests: install it to check."""
    profiles = pytest.importorskip("amads.pitch.key.profiles")
    theirs = getattr(profiles.albrecht_shanahan, mode).data
    assert MODES[mode].tolist() == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("mode", MODES)
def test_profiles_go_with_another_corpus(mode: str) -> None:
    """Bellman's counts (1985) of other music, as music21 holds them: two degrees exchanged show."""
    theirs = BellmanBudge().getWeights(mode)
    assert np.corrcoef(MODES[mode], theirs)[0, 1] > 0.93
