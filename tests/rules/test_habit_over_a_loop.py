"""A bass that begins each chord of a loop on its root, but one on a tone that the loop may sound.

How sure a rule must be to speak aloud: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.harmony.loops import Loops, Soft
from basslint.hear.harmony.sources import LOOP, Roots
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.chords import QUALITIES, TONES

BARS, ODD, G = 16, 9, 7
ROOTS = np.array([10, 5, 3, 0] * (BARS // 4), dtype=np.int8)  # Bb F Eb C, a bar each
LINE = ["A#1", "F1", "D#1", "C1"] * (BARS // 4)


def over_loop(chance: float) -> Chart:
    """G under the F of bar 10, where the loop sounds G by a chance; else roots alone."""
    line = [*LINE[:ODD], "G1", *LINE[ODD + 1 :]]
    beat = f"kick | C2:4 |*{BARS}\nsub | " + " | ".join(f"{note}:4" for note in line) + " |\n"
    song = build(scan(compile_beat(beat).data))
    edges = song.grid.start[: BARS + 1].astype(np.int64)
    triad = np.zeros((BARS, 12), dtype=bool)
    triad[:, list(TONES["major"])] = True
    sounds = np.array([np.roll(tones, root) for tones, root in zip(triad, ROOTS, strict=True)])
    sounds = sounds.astype(np.float64)
    sounds[ODD, G] = chance
    roots = Roots(
        start=edges[:-1],
        end=edges[1:],
        root=ROOTS,
        quality=np.full(BARS, tuple(QUALITIES).index("major"), dtype=np.int8),
        tones=triad,
        bass=np.full(BARS, -1, dtype=np.int8),
        certainty=np.full(BARS, 0.97),
        fit=np.eye(12)[ROOTS],
        since=edges[:-1],
        source=np.full(BARS, LOOP, dtype=np.int8),
    )
    loops = Loops(
        roots=roots,
        sounds=(Soft(edges[:-1], edges[1:], sounds),),
        turns=(),
        start=edges[:1],
        end=edges[-1:],
        cents=np.zeros(1),
        certainty=np.zeros(1),
        name=("loop.wav",),
        remarks=(),
    )
    return Chart(song, Facts(bass=("sub",)), "", loops)


@pytest.mark.parametrize(("chance", "aloud"), [(0.1, True), (0.4, False)])
def test_what_a_loop_may_sound_is_not_foreign_aloud(chance: float, aloud: bool) -> None:
    book = [rule for rule in read_book() if rule.name == "off-root"]
    verdict = judge(over_loop(chance), book)
    assert not verdict.faults
    told = [f.where.bar for f in verdict.findings if f.level != "note"]
    assert told == ([ODD + 1] if aloud else [])
