"""Keys of the percussion map and groups of programs, against pretty_midi's tables of them."""

from __future__ import annotations

import pretty_midi
import pytest

from basslint.theory import general_midi as gm


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (gm.KICKS, ("Bass Drum",)),
        (gm.SNARES, ("Snare",)),
        ((gm.CLAP,), ("Hand Clap",)),
        (gm.TOMS, ("Tom",)),
        (
            gm.TIMEKEEPERS,
            (
                "Hi Hat", "Cymbal", "Ride", "Tambourine", "Cowbell", "Vibraslap", "Cabasa",
                "Maracas", "Whistle", "Guiro", "Claves", "Triangle",
            ),
        ),
    ],
)  # fmt: skip
def test_keys_of_one_kind_are_all_keys_that_are_named_so(
    keys: tuple[int, ...], words: tuple[str, ...]
) -> None:
    named = {
        key
        for key in range(gm.LOWEST_DRUM_KEY, 82)
        if any(word in pretty_midi.note_number_to_drum_name(key) for word in words)
    }
    assert named == set(keys)


def test_the_map_begins_at_the_lowest_drum_key() -> None:
    assert pretty_midi.note_number_to_drum_name(gm.LOWEST_DRUM_KEY) != ""
    assert pretty_midi.note_number_to_drum_name(gm.LOWEST_DRUM_KEY - 1) == ""


@pytest.mark.parametrize(("key", "name"), gm.DRUM_NAMES.items())
def test_words_for_keys_are_words_of_their_names(key: int, name: str) -> None:
    theirs = pretty_midi.note_number_to_drum_name(key).lower()
    wanted = {"kick": "bass drum", "rim": "side stick", "openhat": "open hi hat", "hat": "hi hat"}
    wanted["china"] = "chinese cymbal"
    assert wanted.get(name, name) in theirs


def test_every_key_of_the_map_has_a_word() -> None:
    assert list(gm.DRUM_NAMES) == [k for k in range(128) if pretty_midi.note_number_to_drum_name(k)]


@pytest.mark.parametrize(
    ("programs", "groups"),
    [
        (gm.PIANOS, {"Piano"}),
        (gm.ORGANS, {"Organ"}),
        (gm.BASSES, {"Bass"}),
        (gm.REEDS_PIPES_LEADS, {"Reed", "Pipe", "Synth Lead"}),
        (gm.PADS, {"Synth Pad"}),
        (gm.SOUND_EFFECTS, {"Sound Effects"}),
    ],
)
def test_groups_of_programs_are_whole_groups(programs: range, groups: set[str]) -> None:
    theirs = {p for p in range(128) if pretty_midi.program_to_instrument_class(p) in groups}
    assert theirs == set(programs)


@pytest.mark.parametrize(
    ("programs", "group"), [(gm.ENSEMBLES, "Ensemble"), (gm.DRUM_SOUNDS, "Percussive")]
)
def test_parts_of_groups_lie_in_their_group(programs: range, group: str) -> None:
    assert {pretty_midi.program_to_instrument_class(p) for p in programs} == {group}
    assert gm.BASS_AND_LEAD not in programs


def test_single_programs_bear_the_names_they_stand_for() -> None:
    assert "bass + lead" in pretty_midi.program_to_instrument_name(gm.BASS_AND_LEAD)
    assert "Piano" in pretty_midi.program_to_instrument_name(gm.PIANO)
