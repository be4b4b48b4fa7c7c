"""Names, scales and frequencies against music21 and the equal-temperament table."""

from __future__ import annotations

import music21
import pytest

from basslint.hear.facts import StatedKey, parse_key
from basslint.hear.key.keys import stated_key
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.names import key_name, pitch_name, spelling
from basslint.theory.scales import MODES
from basslint.theory.tuning import frequency

# Equal temperament, A4 = 440 Hz (ISO 16), to a thousandth of a hertz.
TABLE = {24: 32.703, 28: 41.203, 29: 43.654, 31: 48.999, 33: 55.000, 40: 82.407, 69: 440.000}


@pytest.mark.parametrize(("pitch", "hertz"), TABLE.items())
def test_pitches_sound_at_the_published_frequencies(pitch: int, hertz: float) -> None:
    assert frequency(pitch) == pytest.approx(hertz, abs=0.0005)


@pytest.mark.parametrize("pitch", range(128))
def test_frequencies_and_octaves_are_music21s(pitch: int) -> None:
    theirs = music21.pitch.Pitch(midi=pitch)
    assert frequency(pitch) == pytest.approx(theirs.frequency, rel=1e-9)
    assert pitch_name(pitch).rstrip("-0123456789") != ""
    assert int(pitch_name(pitch).lstrip("ABCDEFG#b")) == theirs.implicitOctave


def named(pitch: music21.pitch.Pitch) -> str:
    return pitch.name.replace("-", "b")


# Names by the twelve names alone cannot write E#, B#, Cb and Fb; those keys are left out.
@pytest.mark.parametrize("mode", ["major", "minor"])
@pytest.mark.parametrize("tonic", ["C", "D", "E", "F", "G", "A", "B", "Bb", "Eb", "Ab"])
def test_the_notes_of_a_key_are_spelled_as_music21_spells_them(tonic: str, mode: str) -> None:
    theirs = music21.key.Key(tonic.replace("b", "-"), mode)
    notes = {named(p) for p in theirs.getScale(mode).getPitches()}
    if notes & {"E#", "B#", "Cb", "Fb"}:
        pytest.skip("spelled with a note that the twelve names do not have")
    stated = parse_key(f"{tonic} {mode}")
    ours = spelling(stated.tonic, mode)
    assert {ours[music21.pitch.Pitch(n.replace("b", "-")).pitchClass] for n in notes} == notes
    assert key_name(stated.tonic, mode) == f"{tonic} {mode}"


SCALES = {
    "major": music21.scale.MajorScale,
    "minor": music21.scale.MinorScale,
    "dorian": music21.scale.DorianScale,
    "phrygian": music21.scale.PhrygianScale,
    "lydian": music21.scale.LydianScale,
    "mixolydian": music21.scale.MixolydianScale,
    "locrian": music21.scale.LocrianScale,
}


@pytest.mark.parametrize("mode", MODES)
def test_scales_hold_music21s_notes(mode: str) -> None:
    song = build(scan(compile_beat("tempo 120\nkeys | C4:4 |").data))
    for tonic in range(12):
        theirs = SCALES[mode](music21.pitch.Pitch(tonic)).getPitches()
        row = stated_key(song, (), StatedKey(tonic, mode)).scale[0]
        assert set(row.nonzero()[0].tolist()) == {p.pitchClass for p in theirs}
