"""What a written WAV holds is told: which version, and whether another was there before."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from basslint.cli.main import main

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture(autouse=True)
def _beside_a_beat(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(SAMPLES / "spilled-tea.mid", "off.mid")
    shutil.copy(SAMPLES / "wet-roofs.mid", "clean.mid")


def test_the_version_is_named_and_so_is_what_it_takes_the_place_of(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["audition", "off.mid", "--bars", "6", "--decay", "1s"]) == 0
    assert capsys.readouterr().out.startswith("Wrote off.audition.wav, as written. Start low")
    assert main(["audition", "off.mid", "--bars", "6", "--decay", "1s", "--mended"]) == 0
    assert capsys.readouterr().out.startswith("Replaced off.audition.wav, as mended. Start low")


def test_a_mended_version_that_is_none_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """A beat whose fixes are all made by ear sounds the same with `--mended` alone."""
    words = ["audition", "clean.mid", "--bars", "1", "--mended"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "Nothing was mended, so it sounds as written. Fixes by ear" in said
    assert "clean.audition.wav, as written." in said
    assert main([*words, "--by-ear"]) == 0
    said = capsys.readouterr().out
    assert "so it sounds as written.\n" in said and "Fixes by ear" not in said
