"""What finished songs do all the time is noted at most; the same without its excuse is a warning.

Falls, flat ninths, a hand's feel, fills into something new: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import judged

from basslint.rulebook.loader import read_book

BOOK = {rule.name: rule for rule in read_book()}
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
SUB = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"


def found(text: str, rule: str) -> list[tuple[str, int]]:
    return [(f.level, f.where.bar) for f in judged(text, [BOOK[rule]]).findings]


@pytest.mark.parametrize(("seventh", "level"), [("+Bb3", "note"), ("", "warning")])
def test_a_flat_ninth_needs_its_seventh(seventh: str, level: str) -> None:
    """Db over C–E–G–Bb is the flat ninth of C7; over C–E–G it is a wrong note."""
    keys = f"keys | F3+A3+C4:4 | Bb3+D4+F4:4 | C3+E3+G3{seventh}:4 | F3+A3+C4:4 |*4\n"
    lead = "lead | .:8 | Db5:2 .:2 | .:4 || .:8 | C5:4 | .:4 |*3\n"
    text = f"tempo 140\nkey F major\n{keys}{lead}sub | F1:4 | Bb1:4 | C2:4 | F1:4 |*4"
    text = text.replace(".:8 |", ".:4 | .:4 |")
    assert found(text, "rubs-with-harmony") == [(level, 3)]


@pytest.mark.parametrize(("high", "level"), [("C3", "warning"), ("C4", "note")])
def test_a_second_bass_an_octave_and_a_fifth_up_is_a_voice(high: str, level: str) -> None:
    """ISO 16: F1 43.7 Hz, C3 130.8, C4 261.6; a critical band is about 100 Hz wide there."""
    low = f"low-bass | {SUB} |*4\n"
    mid = SUB.replace("A1", "A2").replace("F1", "{}").replace("C2", "C3").replace("G1", "G2")
    second = f"mid-bass | {mid.format(high)} || {mid.format('F2')} |*3"
    assert found(KEYS + low + second, "two-basses") == [(level, 2)]


@pytest.mark.parametrize(
    ("second", "told"),
    [
        (
            "A2:2~1 C3:2 | F2:3.5 .:.5",
            [],
        ),  # the same line, held over its own next note as the first
        ("A2:2~1.05 C3:2 | F2:3.5 .:.5", []),  # let go of a little later
        ("A2:3 C3:1 | F2:3.5 .:.5", [("warning", 1)]),  # the first has gone on alone
    ],
)
def test_a_double_meets_nothing_that_its_line_does_not(
    second: str, told: list[tuple[str, int]]
) -> None:
    rest = " | C2:3.5 .:.5 | G1:3.5 .:.5"
    plain = f"A1:3.5 .:.5 | F1:3.5 .:.5{rest}"
    held = "~1" if "~" in second else ""
    low = f"low-bass | A1:2{held} C2:2 | F1:3.5 .:.5{rest} || {plain} |*3\n"
    high = rest.replace("C2", "C3").replace("G1", "G2")
    mid = f"mid-bass | {second}{high} || A2:3.5 .:.5 | F2:3.5 .:.5{high} |*3"
    assert found(KEYS + low + mid, "two-basses") == told


@pytest.mark.parametrize(("keys", "level"), [("A1+A3+C4+E4:4", "note"), ("A3+C4+E4:4", "warning")])
def test_a_low_note_that_is_doubled_an_octave_up_is_heard_from_there(keys: str, level: str) -> None:
    """ISO 16: A0 is 27.5 Hz."""
    text = f"tempo 140\nkeys | A3+C4+E4:4 | {keys} || A3+C4+E4:4 |*6\nsub | A1:4 | A0:4 || A1:4 |*6"
    assert found(text, "too-low") == [(level, 2)]


BENT = """tempo 140
keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4
sub wheel 12
sub bend | 1:0 | 1:0 3:0 4:{} 4.2:{} 4.3:0 || 1:0 |*14
sub | A1:3.5 .:.5 | F1:{} .:{} | C2:3.5 .:.5 | G1:3.5 .:.5
"""


@pytest.mark.parametrize(("to", "level"), [(-5, "note"), (+7, "warning")])
def test_a_fall_that_is_let_go_of_on_its_way_is_a_fall(to: int, level: str) -> None:
    text = BENT.format(to, to, 2.7, 1.3).rstrip() + f" || {SUB} |*3"
    assert found(text, "slide-never-lands") == [(level, 2)]


@pytest.mark.parametrize(
    ("to", "held", "level"), [(-4.6, 3.1, "note"), (-4.6, 3.5, "warning"), (4.6, 3.1, "warning")]
)
def test_where_a_fall_stops_with_its_note_is_no_pitch(to: float, held: float, level: str) -> None:
    bends = BENT.format(to, to, held, 4 - held).replace("4.2:", "4.6:").replace("4.3:", "4.7:")
    text = f"{bends.rstrip()} || {SUB} |*3"
    assert found(text, "slide-between-notes") == [(level, 2)]


@pytest.mark.parametrize(("note", "level"), [("A1", "note"), ("G1", "warning")])
def test_what_both_chords_have_drags_less(note: str, level: str) -> None:
    """A is the third of F; G, left over from G, is no tone of F."""
    chord = {"A1": "A3+C4+E4:4", "G1": "G3+B3+D4:4"}[note]
    keys = f"tempo 140\nkeys | {chord} | F3+A3+C4:4 | C3+E3+G3:4 | C3+E3+G3:4 |*4\n"
    right = f"{note}:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | C2:3.5 .:.5"
    late = f"{note}:4~1.5 | .:1.5 F1:2 .:.5 | C2:3.5 .:.5 | C2:3.5 .:.5"
    assert found(f"{keys}sub | {late} || {right} |*3", "late-change") == [(level, 1)]


ROLL = "C2 D2 C2 D2:1/6@60-110x6"
MARKED = f"tempo 140\nmarker 1 Verse\nmarker 9 Hook\n{KEYS[10:]}sub | {SUB} |*4\n"


@pytest.mark.parametrize(
    ("more", "level"),
    [
        ("", "warning"),
        ("lead | .:4 |*3 | A5:4 |*13\n", "note"),  # comes in
        ("lead | A5:4 |*3 | .:4 |*13\n", "note"),  # stops
        ("lead | A5:4 |*16\n", "warning"),  # plays all through
        ("lead | .:4 |*2 | A5:4 | .:4 |*13\n", "warning"),  # played in the fill alone
    ],
)
def test_a_fill_that_leads_into_something_new_is_only_noted(more: str, level: str) -> None:
    drums = f"drums | C2 D2 C2 D2 |*2 | {ROLL} || C2 D2 C2 D2 |*13\n"
    assert found(MARKED + more.replace(" | ", " || ") + drums, "fill-off-phrase") == [(level, 3)]


def test_a_drum_that_begins_after_a_fill_is_something_new() -> None:
    drums = f"drums | C2 D2 C2 D2 |*2 || {ROLL} || C2 D2 C2 F#2+D2 |*13\n"
    assert found(MARKED + drums, "fill-off-phrase") == [("note", 3)]


@pytest.mark.parametrize(
    ("loose", "level"),
    [([], "warning"), ([3, 7, 11], "note")],
)
def test_a_hand_that_strays_often_is_heard_as_a_player(loose: list[int], level: str) -> None:
    """0.04 beats at 140 bpm are 17 ms; of the others one in five is 7 ms off, or none."""
    late = [".:.04 A1:3.46 .:.5" if bar == 5 else "A1:3.5 .:.5" for bar in range(16)]
    for bar in loose:
        late[bar] = ".:.016 A1:3.484 .:.5"
    text = f"tempo 140\nkeys | A3+C4+E4:4 |*16\nkick | C2:4 |*16\nsub | {' | '.join(late)} |"
    assert found(text, "kick-flam") == [(level, 6)]


@pytest.mark.parametrize(("wrong", "level"), [("F#1", "error"), ("E1", "warning")])
def test_a_figure_is_an_error_only_where_it_is_nearly_sure(wrong: str, level: str) -> None:
    """F# under F in every copy, foreign to the scale; E, which is of it and makes Fmaj7."""
    bass = SUB.replace("F1", wrong)
    assert found(f"{KEYS}sub | {bass} |*4", "off-root") == [(level, 2)]


@pytest.mark.parametrize(("stands", "told"), [(0.3, []), (1.2, [("error", 2)])])
def test_a_fall_at_the_end_of_a_note_lands_nowhere(stands: float, told: list[object]) -> None:
    """Down to C#, four semitones in .8 beats: heard where it stands for half of that."""
    lands = 4.7 - stands
    bend = f"1:0 {lands - 0.8:g}:0 {lands:g}:-4 4.7:-4 4.9:0"
    text = f"""{KEYS}sub wheel 12
sub bend | 1:0 | {bend} || 1:0 |*14
sub | A1:3.5 .:.5 | F2:3.7 .:.3 || {SUB} |*4"""
    assert found(text, "slide-off-scale") == told


def test_hairs_that_outnumber_the_slides_are_how_it_is_played() -> None:
    """One clear overlap; one hair beside it is a slip, three are only noted."""
    for hairs, level in ((1, "warning"), (3, "note")):
        step = "A1:2~0.02 C2:1.5 .:.5 |"
        line = f"A1:2~0.5 C2:1.5 .:.5 | {step * hairs}"
        rest = "A1:3.5 .:.5 | " * (15 - hairs)
        text = f"tempo 140\nkeys | A3+C4+E4:4 |*16\nsub | {line} {rest}"
        assert {at[0] for at in found(text, "accidental-slide")} == {level}


def test_a_bass_in_octaves_and_its_double_clash_once() -> None:
    lead = "lead | E5:4 | F#5:4 | E5:4 | D5:4 || E5:4 | C5:4 | E5:4 | D5:4 |*3\n"
    octaves = "A1+A2:3.5 .:.5 | F1+F2:3.5 .:.5 | C2+C3:3.5 .:.5 | G1+G2:3.5 .:.5 |*4\n"
    text = f"{KEYS}{lead}low-bass | {octaves}mid-bass | {octaves}"
    (only,) = judged(text, [BOOK["rubs-with-harmony"]]).findings
    assert (only.where.bar, [w.bar for w in only.also]) == (2, [2, 2, 2])
    twice = judged(text.replace("C5:4 | E5:4 | D5:4 |*3", "F#5:4 |*1"), [BOOK["rubs-with-harmony"]])
    assert [(f.where.bar, len(f.also)) for f in twice.findings] == [(2, 3), (6, 3)]


def test_a_roll_that_misses_the_drums_in_every_copy_is_one_finding() -> None:
    line, late = "A1:3.5 .:.5", "A1:2 .:157/150 A2:1/6x5 A2:3/25"
    text = f"tempo 140\nkeys | A3+C4+E4:4 |*17\nsub | {line} | {line} | {line} | {late} |*4"
    beat = "C2 D2 C2 D2"
    text += f" || {line}\ndrums | {beat} | {beat} | {beat} | {beat}:1/6x6 |*4 || {beat}"
    (only,) = judged(text, [BOOK["roll-misses-snare"]]).findings
    assert (only.where.bar, [w.bar for w in only.also]) == (4, [8, 12, 16])
    assert "4 times alike" in only.message
    assert only.fix is not None


def test_a_roll_that_blurs_in_every_copy_is_one_finding() -> None:
    text = """tempo 140
keys  | E3+G3+B3:4 | C3+E3+G3:4 |*8
sub   | E1:3.5 .:.5 | C2:3.5 .:.5 | E1:3.5 .:.5 | C2:2 .:1 E1:1/16@60-110x16 |*4
drums | C2 D2 C2 D2 |*16"""
    (only,) = judged(text, [BOOK["roll-blurs"]]).findings
    assert (only.where.bar, [w.bar for w in only.also]) == (4, [8, 12, 16])
    assert only.fix is not None and len(only.fix.edits) == 4 * 16


@pytest.mark.parametrize(
    ("tune", "level"),
    [
        ("G5:1 F#5:1.2 E5:1.8", "note"),  # passes
        ("G5:1 F#5:1.2 G4:1.8", "note"),  # turns, an octave apart
        ("G5:1 F#5:1.1 F#5:.2 E5:1.7", "note"),  # struck again
        ("G5:1 F#5:1.1 F#5:.6 E5:1.3", "warning"),  # and stands
        ("G5:1 F#5:1.6 E5:1.4", "warning"),  # stands
        ("C5:1 F#5:1.2 E5:1.8", "warning"),  # leapt to
        ("G5:1 F#5:1.2 C5:1.8", "warning"),  # leapt from
        ("G5+C5:1 F#5+C5:1.2 E5+C5:1.8", "warning"),  # a chord
    ],
)
def test_a_tone_that_passes_above_the_bass_rubs_less(tune: str, level: str) -> None:
    """F# over F (passing and neighbour notes: Open Music Theory)."""
    lead = f"lead | E5:4 | {tune} | E5:4 | D5:4 || E5:4 | C5:4 | E5:4 | D5:4 |*3\n"
    text = f"{KEYS}key C major\n{lead}sub | {SUB} |*4"
    assert found(text, "rubs-with-harmony") == [(level, 2)]


@pytest.mark.parametrize(
    ("bars", "level"),
    [
        ("E1:2 C#2:1.5 .:.5 | D2:3.5 .:.5", "warning"),
        ("E1:2 C#2:1.5 .:.5 | F#1:3.5 .:.5", "note"),
        ("D2:3.5 .:.5 | E1:2 C#2:1.5 .:.5", "warning"),
    ],
)
def test_a_line_that_leaves_the_scale_with_two_tones_has_gone_elsewhere(
    bars: str, level: str
) -> None:
    lead = "lead | A4:1 C5:1 E5:2 | F5:1 E5:1 C5:2 | D5:1 C5:1 B4:2 | A4:4 |*2\n"
    line = f"A1:3.5 .:.5 | {bars} | A1:3.5 .:.5 || {SUB.replace('F1', 'E1')} |"
    told = found(f"tempo 140\nkey A minor\n{lead}sub | {line}", "outside-scale")
    assert (level, 2 + bars.startswith("D2")) in told and len({at[0] for at in told}) == 1


def test_a_note_from_outside_the_scale_that_comes_back_is_told_once_with_all_its_places() -> None:
    """Over a tune alone, C sharp on beat 3 of every second bar: to be mended in all or in none."""
    lead = "lead | A4:1 C5:1 E5:2 | F5:1 E5:1 C5:2 | D5:1 C5:1 B4:2 | A4:4 |*2\n"
    line = "sub | A1:3.5 .:.5 | E1:2 C#2:1.5 .:.5 |*4"
    (told,) = judged(f"tempo 140\nkey A minor\n{lead}{line}", [BOOK["outside-scale"]]).findings
    assert told.level == "note" and [at.bar for at in told.places] == [2, 4, 6, 8]
    assert told.fix is not None
    assert [(e.do, e.tick) for e in told.fix.edits] == [("pitch", at.tick) for at in told.places]


CHROMATIC = "E2 D#2 D2 C#2 C2 B1 A#1 A1"
SCALE = "E1 F1 G1 A1 B1 C2 D2 A1"
TRILL = "A1 C2 A1 C2 A1 C2 A1 C2"


def in_twelfths(tones: str) -> str:
    return " ".join(f"{tone}:1/12" for tone in tones.split())


@pytest.mark.parametrize(
    ("tones", "level"),
    [(CHROMATIC, "note"), (SCALE, "note"), (TRILL, "warning"), ("A1 " * 8, "warning")],
)
def test_a_glissando_asks_for_no_tone_of_its_own(tones: str, level: str) -> None:
    """Each hit lasts 35.7 ms, at most two periods of A1 (55 Hz, ISO 16)."""
    run = f"G1:3 {in_twelfths(tones)} .:1/3"
    line = f"{SUB} |*3 | {SUB.rsplit(' | ', 1)[0]} | {run} |"
    assert found(f"{KEYS}sub | {line}", "roll-blurs") == [(level, 16)]


@pytest.mark.parametrize(
    ("tones", "level"),
    [("A2 " * 8, "warning"), (SCALE, "note"), ("A2 C3 E3 A3 C4 A3 E3 C3", "note")],
)
def test_a_run_through_the_chord_is_a_figure_of_the_line(tones: str, level: str) -> None:
    """In bar 3 of phrases of four; a roll there strikes one tone again and announces a phrase."""
    text = KEYS.replace("keys", "marker 1 Verse\nmarker 9 Hook\nkeys", 1)
    run = SUB.replace("C2:3.5 .:.5", f"C2:3 {in_twelfths(tones)} .:1/3")
    assert found(f"{text}sub | {run} || {SUB} |*3", "fill-off-phrase") == [(level, 3)]


@pytest.mark.parametrize(
    ("kick", "rim", "level"),
    [
        (".05 C2:.5 .:3.45", "C#2:4", "note"),  # the stick is with the bass, the kick is late
        (".05 C2:.5 .:3.45", ".:.03 C#2:3.97", "warning"),
        (".05 C2:.5 .:3.45", ".:2 C#2:2", "warning"),
    ],
)
def test_a_bass_with_the_kit_is_not_the_one_that_strays(kick: str, rim: str, level: str) -> None:
    """0.05 beats are 21 ms at 140 bpm, 0.03 are 13."""
    kicks = f"kick | C2:4 |*7 | .:{kick} || C2:4 |*8\n"
    rims = f"rim | .:2 C#2:2 |*7 | {rim} || .:2 C#2:2 |*8\n".replace("rim", "perc")
    assert found(f"{KEYS}{kicks}{rims}sub | {SUB} |*4", "kick-flam") == [(level, 8)]


@pytest.mark.parametrize(("drum", "told"), [("D2", []), ("A#2", []), ("A1", [("warning", 2)])])
def test_a_kit_without_a_kick_has_none(drum: str, told: list[tuple[str, int]]) -> None:
    """General MIDI 1: D2 is a snare, A#2 an open hat; a floor tom, A1, may be a kit's kick."""
    late = SUB.replace("F1:3.5", ".:.05 F1:3.45")
    kit = f"drums | {drum}:2 {drum}:2 |*16\n"
    assert found(f"{KEYS}{kit}sub | {late} || {SUB} |*3", "kick-flam") == told
