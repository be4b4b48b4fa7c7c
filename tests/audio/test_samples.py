"""The two sample loops: made by the script beside them, heard and judged as their makers mean."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path

import numpy as np
import pytest
import soundfile

import basslint
from basslint.audio.answers import loop_roots
from basslint.audio.bars import Stated
from basslint.audio.loop import hear_loop

BOX = Path(__file__).parents[2] / "samples" / "tape-box"


def test_the_script_writes_these_loops() -> None:
    spec = importlib.util.spec_from_file_location("build", BOX.parent / "build.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name, data in module.build_loops().items():
        stored = BOX.parent / name
        assert stored.stat().st_size < 300_000
        built, rate = soundfile.read(io.BytesIO(data), dtype="int16")
        kept, kept_rate = soundfile.read(stored, dtype="int16")
        assert rate == kept_rate and len(built) == len(kept)
        # sines may round otherwise on another machine
        assert int(np.abs(built.astype(int) - kept).max()) <= 1


@pytest.mark.parametrize(("name", "roots"), [("attic", (9, 5, 0, 7)), ("cellar", (2, 10, 7, 9))])
def test_their_roots_are_heard(name: str, roots: tuple[int, ...]) -> None:
    heard = hear_loop(BOX / f"{name}.wav", Stated(bpm=96.0))
    told = loop_roots(heard)
    assert heard.bars.bars == 4
    for bar, root in enumerate(roots):
        row = int(np.searchsorted(told.start, bar * 1920 + 480, "right")) - 1
        assert int(told.root[row]) == root and told.certainty[row] >= 0.75
    assert len(heard.glides) == (name == "cellar")


def test_the_clean_beat_is_silent_and_the_slip_is_found() -> None:
    reports = basslint.check([BOX / "attic.mid", BOX / "cellar.mid"]).files
    found = {
        Path(file.path).stem: {(f.rule, f.where.bar) for f in file.findings if f.level != "note"}
        for file in reports
    }
    assert found == {"attic": set(), "cellar": {("off-root", 6)}}
