"""What names and programs tell. Words of the trade: common practice, no source."""

from __future__ import annotations

import numpy as np
import pretty_midi
import pytest

from basslint.hear.parts.names import role_by_name, role_by_program
from basslint.hear.parts.texture import _KIT


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("Bass", "bass"),
        ("Sub", "bass"),
        ("808", "bass"),
        ("808s", "bass"),
        ("SubBass 2", "bass"),
        ("Synth Bass 1", "bass"),
        ("bassline", "bass"),
        ("Picked Bass (L)", "bass"),
        ("Bass Drum 1", "drums"),
        ("Sub kick", "drums"),
        ("808 Snare", "drums"),
        ("Hi-Hat", "drums"),
        ("OPEN_HAT", "drums"),
        ("Perc loop", "drums"),
        ("Clap", "drums"),
        ("Bassoon", "melody"),
        ("Bassoons 1", "melody"),
        ("Basson", "melody"),
        ("Basso", "bass"),
        ("Bass Clarinet", "melody"),
        ("Lead", "melody"),
        ("Vox chop", "melody"),
        ("Rhodes", "harmony"),
        ("E-Piano", "harmony"),
        ("Warm Pad", "harmony"),
        ("Arp 2", "harmony"),
        ("Riser FX", "other"),
        ("Bass Lead", None),
        ("track 3", None),
        ("", None),
        ("Subject to change", None),
        ("Patch", None),
    ],
)
def test_names_tell_a_role(name: str, role: str | None) -> None:
    told = role_by_name(name)
    assert (told[0] if told else None) == role


def test_programs_agree_with_general_midi_classes() -> None:
    """Outside: instrument classes of General MIDI as pretty_midi carries them."""
    for program in range(128):
        kind = pretty_midi.program_to_instrument_class(program)
        role = role_by_program(program)
        assert (role == "bass") == (kind == "Bass")
        if kind in ("Organ", "Synth Pad"):
            assert role == "harmony"
        if kind == "Sound Effects":
            assert role == "other"
        if role == "drums":
            assert kind == "Percussive"


def test_kit_keys_are_drum_set_sounds() -> None:
    """Outside: General MIDI percussion map as pretty_midi carries it."""
    sounds = ("Drum", "Snare", "Stick", "Clap", "Hat", "Cymbal", "Ride", "Tambourine")
    for pitch in np.flatnonzero(_KIT):
        name = pretty_midi.note_number_to_drum_name(int(pitch))
        assert any(sound in name for sound in sounds), name
    for pitch in (60, 64, 69, 76):  # bongo, conga, cabasa, wood block: not a drum set
        assert not _KIT[pitch]
