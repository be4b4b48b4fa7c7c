"""Which parts are bass where the line rests a lot, or a layer lies over it? Words of the trade and
the register of its layers: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard, judged
from midi_bytes import midi, track

from basslint.hear.parts.parts import hear_parts
from basslint.rulebook.loader import read_book
from basslint.smf.scan import scan
from basslint.song.arrangement import build

# names that tell nothing, and chords above the bass clef's lower half
CHORDS = "one | A3+C4+E4:4 | F3+A3+C4:4 | G3+C4+E4:4 | G3+B3+D4:4 |*2"
DRUMS = "drums | C2:.5 F#2:.5 D2:.5 F#2:.5 |*8"
RESTING = "A1:1 .:3 | F2:1 .:3 | C2:1 .:3 | .:4 |*2"  # sounds a fifth of the time
SUB = "sub | A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*2"


def roles(*lines: str) -> dict[str, tuple[str, float]]:
    chart = heard("\n".join(("tempo 140", *lines)))
    told = zip(chart.song.parts, chart.parts.role, chart.parts.certainty.tolist(), strict=True)
    return {part.name: (role, certainty) for part, role, certainty in told}


@pytest.mark.parametrize("others", [(CHORDS, DRUMS), (CHORDS,)])
def test_the_one_deep_line_under_a_small_arrangement_is_the_bass_though_it_rests(
    others: tuple[str, ...],
) -> None:
    found = roles(*others, f"two | {RESTING}")
    assert found["two"][0] == "bass"
    assert 0.5 < found["two"][1] < 0.9  # likelier than not, and no more is claimed


@pytest.mark.parametrize(
    "lines",
    [
        (f"two | {RESTING}", DRUMS),  # nothing that it could be the bass of
        (CHORDS, f"two | {RESTING}".replace("1:1", "3:1").replace("2:1", "3:1")),  # not deep
        (CHORDS, "two | A2+E3:1 .:3 | F2+C3:1 .:3 | C2+G2:1 .:3 | .:4 |*2"),  # chords itself
        # a piano strides below it
        (f"one | {'E1:1 A4+C5+E5:3 | F1:1 A4+C5+F5:3 | ' * 4}", f"two | {RESTING}"),
    ],
)
def test_it_must_be_alone_down_there_and_under_something(lines: tuple[str, ...]) -> None:
    assert "bass" not in {role for role, _ in roles(*lines).values()}


HIGH = "A2:2 E3:1 .:1 | C3:2 F3:1 .:1 | E3:2 G3:1 .:1 | D3:2 G3:1 .:1 |*2"  # no layer by its notes


@pytest.mark.parametrize("name", ["Mid-Bass", "Reese", "Low-Bass", "808-2"])
def test_a_second_part_named_a_bass_is_one(name: str) -> None:
    role, certainty = roles(CHORDS, SUB, DRUMS, f"{name} | {HIGH}")[name]
    assert role == "bass"
    assert certainty > 0.5


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("Bass-Lead", HIGH),  # a sound that plays either
        ("two", HIGH),
        ("Reese", HIGH.replace("3:", "5:").replace("2:1 ", "5:1 ").replace("2:2", "5:2")),
        ("Mid-Bass", "A2+E3+C4:4 | F2+C3+A3:4 | C3+G3+E4:4 | G2+D3+B3:4 |*2"),
    ],
)
def test_a_name_is_not_believed_against_the_notes(name: str, line: str) -> None:
    found = roles(CHORDS, SUB, DRUMS, f"{name} | {line}")
    assert found[name][0] != "bass"
    assert found["sub"][0] == "bass"


def test_a_part_named_a_bass_is_the_bass_where_there_is_none_below_it() -> None:
    high = "A3:2 B3:1 .:1 | G3:2 A3:1 .:1 | B3:2 A3:1 .:1 | C4:2 A3:1 .:1 |*2"  # no low line
    role, certainty = roles(CHORDS, DRUMS, f"Reese | {high}")["Reese"]
    assert (role, certainty >= 0.5) == ("bass", True)
    assert roles(CHORDS, DRUMS, f"two | {high}")["two"][0] != "bass"


def test_a_layer_may_lie_an_octave_up_with_no_name_to_tell_it() -> None:
    layer = SUB.replace("sub", "two").replace("2:", "4:").replace("1:", "3:")
    assert roles(CHORDS, SUB, DRUMS, layer)["two"][0] == "bass"
    other = layer.replace(
        "A3:3.5 .:.5", "A3:1 G3:1 E3:1 D3:1"
    )  # its own line at every second onset
    assert roles(CHORDS, SUB, DRUMS, other)["two"][0] != "bass"


def _part(channel: int, program: int, *pitches: int) -> bytes:
    """Chords of these pitches, a half note each, up and down by a few semitones."""
    events = [(0, bytes((0xC0 + channel, program)))]
    for step in range(32):
        keys = [pitch + step % 5 for pitch in pitches]
        events += [(0, bytes((0x90 + channel, key, 90))) for key in keys]
        events += [(0 if n else 900, bytes((0x80 + channel, key, 0))) for n, key in enumerate(keys)]
        events.append((60, bytes((0xB0 + channel, 1, 0))))
    return track(*events)


@pytest.mark.parametrize(("program", "role"), [(48, "harmony"), (38, "bass"), (0, "bass")])
def test_strings_an_octave_over_the_bass_stay_strings(program: int, role: str) -> None:
    """General MIDI 1: program 49 is a string ensemble, 39 a synth bass, 1 says nothing."""
    tracks = _part(0, 0, 36), _part(1, program, 48), _part(2, 0, 60, 64, 67)
    assert hear_parts(build(scan(midi(*tracks)))).role == ("bass", role, "harmony")


def test_a_layer_is_not_too_high_while_the_bass_sounds_below_it() -> None:
    book = [rule for rule in read_book() if rule.name == "too-high"]
    layer = "A2:.75x4 .:1 | F2:.75x4 .:1 | C4:3.5 .:.5 | G2:.75x4 .:1 |*2"  # C4: 1 note of 13
    text = f"tempo 140\n{CHORDS}\n{DRUMS}\n{SUB}\nmid-bass | {layer}"
    assert judged(text, book).findings == ()
    alone = text.replace("C2:3.5", ".:3.5")  # the sub rests there
    (finding,) = judged(alone, book).findings
    assert [place.bar for place in finding.places] == [3, 7]


RIFF = "A2:1 A2:1 C3:1 E3:1 | F2:1 F2:1 A2:1 C3:1 | C3:1 C3:1 E3:1 G3:1 | G2:1 G2:1 B2:1 D3:1 |*2"


@pytest.mark.parametrize(
    ("line", "bass"),
    [
        (RIFF, True),  # its mean lies at A#2, under all others
        (RIFF.replace("3:", "4:").replace("2:", "3:"), False),  # an octave up, among the chords
    ],
)
def test_a_low_line_that_nothing_says_is_a_bass_is_one_by_lying_under_all_others(
    line: str, bass: bool
) -> None:
    assert (roles(CHORDS.replace("3", "4"), DRUMS, f"two | {line}")["two"][0] == "bass") is bass
