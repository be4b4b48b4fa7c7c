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
    assert found["two"][1] > 0.5


@pytest.mark.parametrize(
    "lines",
    [
        (CHORDS, f"two | {RESTING}".replace("1:1", "4:1").replace("2:1", "4:1")),  # not deep
        (CHORDS, "two | A2+E3:1 .:3 | F2+C3:1 .:3 | C2+G2:1 .:3 | .:4 |*2"),  # chords itself
        (CHORDS, "two | .:15 A1:1 | .:16 |"),  # once in eight bars
    ],
)
def test_what_is_high_or_chords_or_rare_is_no_bass(lines: tuple[str, ...]) -> None:
    assert "bass" not in {role for role, _ in roles(*lines).values()}


@pytest.mark.parametrize("others", [(), (DRUMS,)])
def test_a_low_line_of_single_notes_is_the_bass_with_nothing_above_it(
    others: tuple[str, ...],
) -> None:
    assert roles(SUB.replace("sub", "two"), *others)["two"][0] == "bass"


WALKING = (
    "two | C3:1 E3:1 G3:1 A3:1 | A3:1 G3:1 E3:1 C#3:1 | D3:1 F3:1 A3:1 C4:1 "
    "| G3:1 B3:1 D4:1 Eb4:1 |*2"
)
COMPING = "one | E4+G4+B4:2 .:2 | E4+G4+C5:2 .:2 | F4+A4+C5:2 .:2 | F4+G4+B4:2 .:2 |*2"
TUNE = "tune | E5:1 G5:1 E5:2 | C5:2 A4:1 G4:1 | F5:3 A5:1 | B4:4 |*2"


@pytest.mark.parametrize("others", [(COMPING,), (COMPING, TUNE), (COMPING, TUNE, DRUMS)])
def test_a_walking_bass_an_octave_high_is_the_bass(others: tuple[str, ...]) -> None:
    assert roles(*others, WALKING)["two"][0] == "bass"


def test_the_same_walk_over_a_bass_is_none() -> None:
    found = roles(COMPING, SUB.replace("sub", "low"), WALKING)
    assert (found["low"][0], found["two"][0]) == ("bass", "melody")


@pytest.mark.parametrize("move", [1, -1, 2, 6])
def test_a_bass_that_is_off_as_a_whole_is_found_all_the_same(move: int) -> None:
    """Or nobody could be told that it is."""
    roots = [(33 + move, 4), (29 + move, 4), (36 + move, 4), (31 + move, 4)] * 2
    chords = [(57, 60, 64), (53, 57, 60), (55, 60, 64), (55, 59, 62)] * 2
    tracks = _held(0, [(key,) for key, _ in roots]), _held(1, chords)
    assert hear_parts(build(scan(midi(*tracks)))).role == ("bass", "harmony")


def test_the_line_is_carried_by_the_busier_of_two_that_play_it() -> None:
    """A pad that holds the bass's notes an octave under it; the same where the pad is first."""
    pad = "pad | A1:4 | F1:4 | C1:4 | G1:4 |*2"
    played = "two | A2:1 .:.5 A2:.5 A2:2 | F2:1 .:.5 F2:.5 F2:2 | C2:1 .:.5 C2:.5 C2:2 | G2:4 |*2"
    for lines in ((CHORDS, pad, played), (played, pad, CHORDS)):
        chart = heard("\n".join(("tempo 140", *lines)))
        named = [chart.song.parts[i].name for i in chart.parts.bass]
        assert named[0] == "two"
    chart = heard("\n".join(("tempo 140", CHORDS, pad.replace("pad", "bass"), played)))
    assert chart.song.parts[chart.parts.bass[0]].name == "bass"  # a name is somebody's word


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


def _held(channel: int, chords: list[tuple[int, ...]]) -> bytes:
    """Chords of these pitches, a bar of 480 ticks a quarter each."""
    events: list[tuple[int, bytes]] = []
    for keys in chords:
        events += [(0, bytes((0x90 + channel, key, 90))) for key in keys]
        events += [(0 if n else 1920, bytes((0x80 + channel, k, 0))) for n, k in enumerate(keys)]
    return track(*events)


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
    ("line", "chords", "bass"),
    [
        (RIFF, CHORDS.replace("3", "4"), True),  # its mean lies at A#2, under all others
        (RIFF.replace("3:", "4:").replace("2:", "3:"), CHORDS, False),  # among the chords
    ],
)
def test_a_low_line_that_nothing_says_is_a_bass_is_one_by_lying_under_all_others(
    line: str, chords: str, bass: bool
) -> None:
    assert (roles(chords, DRUMS, f"two | {line}")["two"][0] == "bass") is bass


LATE = "three | .:.5 A1:3.5 | .:.5 F1:3.5 | .:.5 C2:3.5 | .:.5 G1:3.5 |*2"


def rival(*lines: str) -> str | None:
    chart = heard("\n".join(("tempo 140", CHORDS, *lines)))
    return chart.song.parts[chart.parts.rival].name if chart.parts.rival >= 0 else None


@pytest.mark.parametrize(
    ("lines", "asked"),
    [
        ((SUB.replace("sub", "two"), LATE), True),  # two low lines, and nothing tells them apart
        ((SUB, LATE), False),  # one has the name
        ((SUB, LATE.replace("three", "reese")), False),  # both have
        ((SUB.replace("sub", "two"), SUB.replace("sub", "three")), False),  # the same notes
        ((SUB.replace("sub", "two"),), False),
    ],
)
def test_a_line_of_other_notes_that_may_as_well_be_the_bass_is_its_rival(
    lines: tuple[str, ...], asked: bool
) -> None:
    assert (rival(*lines) in ("two", "three")) is asked
