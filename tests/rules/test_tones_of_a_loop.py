"""What a loop of sound is heard to sound beside the chord that is heard in it.

That one tone of a chord may hardly sound, that a bass may add the root to a chord, and that B and D
are G as well as Bm, is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.harmony.loops import Loops, Soft
from basslint.hear.harmony.sources import LOOP, Roots
from basslint.readings.accompaniment import rub_share, supported, tones_around
from basslint.readings.against_harmony import in_chord
from basslint.readings.copies import heard_as, makes_chord
from basslint.readings.over_loop import over_loop
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.chords import QUALITIES, TONES
from basslint.theory.names import SPELLINGS

SURE, UNSURE = 0.95, 0.25
NAMES = tuple(SPELLINGS[0])


def loops(root: str, quality: str, certainty: float, sounds: dict[str, float], end: int) -> Loops:
    """A loop of one chord, and the chance that each pitch class sounds in it."""
    ticks = np.array([0]), np.array([end])
    chance = np.zeros((1, 12))
    for name, value in sounds.items():
        chance[0, NAMES.index(name)] = value
    tones = np.zeros((1, 12), dtype=bool)
    tones[0, list(TONES[quality])] = True
    small = np.array([NAMES.index(root)], dtype=np.int8)
    roots = Roots(
        start=ticks[0],
        end=ticks[1],
        root=small,
        quality=np.array([tuple(QUALITIES).index(quality)], dtype=np.int8),
        tones=tones,
        bass=np.array([-1], dtype=np.int8),
        certainty=np.array([certainty]),
        fit=np.ones((1, 12)),
        since=ticks[0],
        source=np.array([LOOP], dtype=np.int8),
    )
    return Loops(
        roots=roots,
        sounds=(Soft(*ticks, chance),),
        turns=(),
        start=ticks[0],
        end=ticks[1],
        cents=np.zeros(1),
        certainty=np.zeros(1),
        name=("loop.wav",),
        remarks=(),
    )


def chart(bass: str, root: str, quality: str, certainty: float, **sounds: float) -> Chart:
    song = build(scan(compile_beat(f"kick | C2:4 |*4\nsub | {bass}:4 |*4\n").data))
    named = {name.replace("s", "#"): value for name, value in sounds.items()}
    return Chart(song, Facts(), "", loops(root, quality, certainty, named, song.end_tick))


@pytest.mark.parametrize(
    ("bass", "rubs"),
    [
        ("G1", 0.1),  # a semitone over F#, which the chord has and the sound hardly
        ("Eb1", 0.9),  # over D, which sounds
        ("Bb1", 0.95),  # under B, the root, surely heard
    ],
)
def test_of_a_chord_only_the_root_and_what_sounds_rub(bass: str, rubs: float) -> None:
    over = chart(bass, "B", "minor", SURE, B=0.6, D=0.9, Fs=0.1)
    assert rub_share(over) == pytest.approx(rubs)


def test_a_tone_of_the_chord_is_supported_whether_it_sounds_or_not() -> None:
    over = chart("F#1", "B", "minor", SURE, B=0.9, D=0.9)
    assert supported(over) == pytest.approx(SURE)


@pytest.mark.parametrize(
    ("bass", "sounds", "name"),
    [
        ("G1", {"D": 0.9, "F": 0.6}, "Gm7"),  # the third that the chord has and the sound lacks
        ("G1", {"A#": 0.9, "D": 0.9, "F": 0.9, "C#": 0.7}, "Gm7"),  # and what passes besides
        ("Eb1", {"G": 0.9, "A#": 0.9}, "Ebmaj9"),
        ("A1", {"A#": 0.9, "D": 0.9, "F": 0.9}, None),
    ],
)
def test_a_bass_makes_a_chord_with_what_a_loop_sounds(
    bass: str, sounds: dict[str, float], name: str | None
) -> None:
    named = {tone.replace("#", "s"): value for tone, value in sounds.items()}
    over = chart(bass, "A#", "major", SURE, **named)
    assert makes_chord(over).tolist() == [name is not None] * 4
    assert heard_as(over)[0] == name


def test_what_a_loop_sounds_is_of_the_chord() -> None:
    assert in_chord(chart("E1", "D", "major", SURE, E=0.7)).all()
    assert not in_chord(chart("E1", "D", "major", SURE, E=0.3)).any()


@pytest.mark.parametrize(
    ("bass", "fifth", "unclear"),
    [
        ("G1", 0.1, True),  # B and D over G: as well G as Bm without its fifth
        ("G1", 0.4, False),
        ("E1", 0.1, False),  # no chord: neither third
    ],
)
def test_two_tones_are_the_chord_on_the_bass_as_well(
    bass: str, fifth: float, unclear: bool
) -> None:
    over = chart(bass, "B", "minor", SURE, B=0.9, D=0.9, Fs=fifth)
    assert over_loop(over)[0].tolist() == [unclear] * 4


def test_a_loop_of_three_tones_under_a_doubtful_chord_is_no_tune() -> None:
    over = chart("E1", "D", "major", UNSURE, D=0.5, A=0.6, C=0.7)
    assert (tones_around(over) >= 3).all()


@pytest.mark.parametrize(("fit", "unclear"), [(0.02, False), (0.12, True)])
def test_a_note_that_another_reading_of_a_doubtful_loop_stands_on_is_not_judged(
    fit: float, unclear: bool
) -> None:
    over = chart("Eb1", "D", "major", UNSURE, D=0.9, Fs=0.9, A=0.9)
    assert over.loops is not None
    over.loops.roots.fit[:] = fit
    assert over_loop(over)[0].tolist() == [unclear] * 4
