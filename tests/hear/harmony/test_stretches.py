"""Where does a stretch of one root begin, and from where on is it felt? Counted in eighths of 4/4.

The chances are made up and certain, so that only what is made of them is asked. That a chord struck
on the last eighth before a bar line or half bar belongs to what follows (an anticipation), and that
one that is struck after a rest is felt from the beat before: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.hear.harmony.segments import BAR, BEAT, HALF_BAR, OFF_BEAT, Segments
from basslint.hear.harmony.sources import Roots
from basslint.hear.harmony.stretches import TONE_FIT, USUAL_TONES, stretches
from basslint.theory.chords import IS_TONE, QUALITIES

ROOT = {"C": 0, "F": 5, "G": 7, "A": 9}
FULL_BAR = (BAR, OFF_BEAT, BEAT, OFF_BEAT, HALF_BAR, OFF_BEAT, BEAT, OFF_BEAT)


def made(roots: str, struck: str, chance: float = 1.0, quality: str = "major") -> Roots:
    """The stretches of a line of roots, a letter an eighth, and ``struck`` pitches at each.

    A small letter is a short rest under that root, ``-`` an eighth of a long silence. ``chance``:
    of each root; as likely as not it is the one a tritone away, else.
    """
    roots, struck = roots.replace(" ", ""), struck.replace(" ", "")
    n = len(roots)
    silent = np.array([letter == "-" for letter in roots])
    root = np.array([ROOT.get(letter.upper(), 0) for letter in roots])
    triad = IS_TONE[QUALITIES.index(quality)]
    tones = triad[(np.arange(12)[None, :] - root[:, None]) % 12].astype(float)
    tones[[not letter.isupper() for letter in roots]] = 0.0
    onsets = np.array([int(mark) if mark.isdigit() else 0 for mark in struck]) / 4
    none = np.zeros(n)
    segments = Segments(
        edges=np.arange(n + 1),
        accent=np.resize(np.array(FULL_BAR, dtype=np.int8), n),
        bar=np.arange(n) // 8,
        sounding=tones,
        sounds=tones.any(axis=1),
        struck=np.zeros((n, 12)),
        bass=np.zeros((n, 12)),
        depth=none,
        attack=none,
        onsets=onsets,
        harmonic_change=none,
    )
    other = np.eye(12, dtype=np.float32)[(root[~silent] + 6) % 12]
    by_root = chance * np.eye(12, dtype=np.float32)[root[~silent]] + (1.0 - chance) * other
    of_best = np.zeros((len(by_root), len(QUALITIES)), dtype=np.float32)
    of_best[:, QUALITIES.index(quality)] = chance
    return stretches(segments, silent, by_root, of_best)


@pytest.mark.parametrize(
    ("roots", "struck", "begins"),
    [
        ("CCCCCCGG GGGGGGGG", "4......4 ........", 7),  # pushed before the bar line,
        ("CCGGGGGG GGGGGGGG", "4..4.... ........", 3),  # and before the half bar
        ("CCCCCCGG GGGGGGGG", "4......2 ........", 7),  # two pitches make a chord,
        ("CCCCCCGG GGGGGGGG", "4......1 ........", 6),  # one may pass
        ("CCCCCCGG GGGGGGGG", "4.....14 ........", 6),  # it was struck on the beat
        ("CCCCGGGG GGGGGGGG", "4....4.. ........", 4),  # after the beat: late, not early
        ("CCCCCCCC GGGGGGGG", "4....... .4......", 8),
        ("CCCCCCCC CCCCCCGG", "4....... .......4", 14),  # nothing follows that it could go with
    ],
)
def test_a_chord_struck_before_the_bar_line_begins_with_its_stroke(
    roots: str, struck: str, begins: int
) -> None:
    heard = made(roots, struck)
    assert heard.root.tolist() == [0, 7]
    assert heard.start.tolist() == [0, begins]
    assert heard.end.tolist() == [begins, 16]


def test_the_first_chord_after_a_long_silence_begins_where_it_sounds() -> None:
    """It comes in between the eighths and is struck again on the next; no chord lasts till then."""
    heard = made("GGGGGGGG -------- ------CC CCCCCCCC", "4....... ........ .......4 ........")
    assert heard.root.tolist() == [7, -1, 0]
    assert heard.start.tolist() == [0, 8, 22]


def test_an_eighth_may_have_a_chord_of_its_own() -> None:
    heard = made("CFFFFFFF FFFFFFFC", "4" * 16)
    assert (heard.root.tolist(), heard.start.tolist()) == ([0, 5, 0], [0, 1, 15])


def test_what_sounds_before_the_stroke_still_belongs_to_the_chord_before() -> None:
    """Seven eighths are F, the last of which was likelier G: six sevenths sure, and no G in it."""
    heard = made("FFFFFFGG GGGGGGGG", "4......4 ........")
    assert heard.certainty.tolist() == pytest.approx([6 / 7, 1.0])
    assert heard.fit[0, 7] == 0.0
    short = made("CCCCCFGG GGGGGGGG", "4....4.4 ........")  # an eighth of F, and one more
    assert (short.root.tolist(), short.start.tolist()) == ([0, 5, 7], [0, 5, 7])


def test_certainty_and_fit_are_chances() -> None:
    """C or F#: E is the third of one, the seventh of the other."""
    heard = made("CCCFFFFF FFFFFFFF", "4" * 16, chance=0.75)
    assert heard.certainty.tolist() == pytest.approx([0.75, 0.75])
    assert heard.fit[0, [0, 6]] == pytest.approx(
        [0.75 + TONE_FIT * 0.25 * USUAL_TONES[6], 0.25], abs=1e-6
    )
    assert heard.fit[0, 4] == pytest.approx(TONE_FIT * (0.75 + 0.25 * USUAL_TONES[10]))


@pytest.mark.parametrize("quality", ["major", "minor"])
def test_a_chord_on_c_is_a_chord_like_any_other(quality: str) -> None:
    """Its root has the number 0; where no root is told the numbers say nothing."""
    heard = made("CCCCCCCC -------- GGGGGGGG", "4" * 24, quality=quality)
    assert heard.root.tolist() == [0, -1, 7]
    assert [QUALITIES[q] for q in heard.quality.tolist()] == [quality, "major", quality]
    assert heard.certainty.tolist() == [1.0, 0.0, 1.0]
    assert heard.fit[:, 6].tolist() == [0.0, 1.0, 0.0]  # a tritone fits where nothing is known


@pytest.mark.parametrize(
    ("roots", "since"),
    [
        ("CCCCCCCG GGGGGGGG", [0, 7]),  # nothing rests before it
        ("CCCCCCcG GGGGGGGG", [0, 6]),  # from the beat before
        ("CCCCCccG GGGGGGGG", [0, 6]),
        ("CCCCCCCC cGGGGGGG", [0, 8]),
        ("CCCCCCCc GGGGGGGG", [0, 8]),  # no eighth before is stronger than the bar line
        ("CCCCCCCC cccGGGGG", [0, 10]),  # from the nearest beat, not from the bar line
        ("CCCCCCCC ccCGGGGG", [0, 11]),
        ("CCCCCCCc ccccGGGG", [0, 12]),  # a beat reaches back three eighths, not to the bar line
        ("CCCCCccG gggggggg", [0, 6]),
        ("CCCCCcfG GGGGGGGG", [0, 6, 7]),  # not from before the chord before it
    ],
)
def test_from_where_a_chord_is_felt(roots: str, since: list[int]) -> None:
    assert made(roots, "4" * 16).since.tolist() == since


def test_a_chord_after_a_long_silence_is_felt_from_its_stroke() -> None:
    """No harmony was there that could have changed before."""
    heard = made("CCCCCCCC -------- -GGGGGGG", "4....... ........ .4......")
    assert heard.root.tolist() == [0, -1, 7]
    assert heard.since.tolist() == [0, 8, 17]
