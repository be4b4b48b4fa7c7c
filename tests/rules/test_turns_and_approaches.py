"""What a bass does again elsewhere, and what leads into the next chord, is meant.

Passing and approach notes, enclosures: Open Music Theory. Boogie, riffs, walks and chords
without their root: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.readings.approach import (
    figure_held_over,
    figure_leads_home,
    leads_home,
    leans_or_runs_out,
    passes_briefly,
    passes_through,
)
from basslint.readings.rootless import root_left_out, third_under
from basslint.readings.turns import (
    degree_elsewhere,
    riff_elsewhere,
    tones_that_turn,
    turns_alike,
)
from basslint.readings.walks import resolves_down
from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
OFF_ROOT = [rule for rule in read_book() if rule.name == "off-root"]


def boogie(root: str, sixth: str, fifth: str) -> str:
    return f"{root}:1 {sixth}:1 {fifth}:1 {sixth}:1"


BOOGIE = " | ".join(
    (
        boogie("A1", "F#2", "E2"),
        boogie("F1", "D2", "C2"),
        boogie("C2", "A2", "G2"),
        boogie("G1", "E2", "D2"),
    )
)


def test_a_boogie_turns_alike_on_every_chord() -> None:
    chart = heard(f"{KEYS}sub | {BOOGIE} |*4")
    assert turns_alike(chart)[1] == 3  # F#, D, A and E come nine semitones up and go two down
    assert degree_elsewhere(chart)[1] == 3
    assert riff_elsewhere(chart)[1] == 0


def test_its_own_copies_make_no_habit() -> None:
    line = "A1:2 B1:1 C2:1 | F1:4 | C2:4 | G1:4"
    chart = heard(f"{KEYS}sub | {line} |*4")
    assert turns_alike(chart).max() == 0
    assert degree_elsewhere(chart)[1] == 0


def test_what_is_not_counted_makes_no_habit() -> None:
    chart = heard(f"{KEYS}sub | {BOOGIE} |*4")
    counted = np.ones(len(chart.bass), dtype=bool)
    counted[chart.bass.pitch == 42] = False  # F#2
    counted[chart.bass.pitch == 38] = False  # D2
    assert tones_that_turn(chart, counted)[1] == 1  # A2 is left: D2 follows E2


def test_a_riff_goes_on_under_other_roots() -> None:
    riff = "A1:1 C2:1 D2:1 E2:1"
    chart = heard(f"{KEYS}sub | {' | '.join([riff] * 4)} |*4")
    assert riff_elsewhere(chart)[[1, 2]].tolist() == [3, 3]


@pytest.mark.parametrize(
    ("line", "passing", "home"),
    [
        ("A1:3 G#1:1 | F1:4", [0], []),  # leaps on
        ("A1:3 F#1:1 | F1:4", [], [1]),  # a semitone into the root of the next chord
        ("A1:3 F#1:.5 F#1:.5 | F1:4", [], [1, 2]),  # struck twice
        ("A1:2 F#1:2 | F1:4", [], []),  # stands for two beats
        ("A1:2 G1:1 F#1:1 | F1:4", [1, 2], [2]),  # passes
        ("A1:2 F#1:1 E1:1 | F1:4", [], [1, 2]),  # on both sides of the next root
        ("A1:1 G#1:1 G1:1 F#1:1 | F1:4", [1, 2, 3], [0, 1, 2, 3, 4]),  # a walk of four steps
        ("A1:2 A#1:1 A1:1 | F1:4", [], []),  # there and back
    ],
)
def test_what_passes_and_what_leads_home(line: str, passing: list[int], home: list[int]) -> None:
    chart = heard(f"{KEYS}sub | {line} | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3")
    first = len(line.replace("|", "").split())
    assert np.flatnonzero(leads_home(chart)[:first]).tolist() == home
    if passing != [0]:
        assert np.flatnonzero(passes_through(chart)[:first]).tolist() == passing


@pytest.mark.parametrize(
    ("line", "passes", "level"),
    [
        ("A1:1 .:1 G#1:.5 .:.5 G1:.5 .:.5", True, "note"),  # a beat of silence and the line goes on
        ("A1:1 .:1 G#1:.5 .:.5 D2:.5 .:.5", False, "error"),  # leaps on
        ("A1:.5 .:1.5 G#1:.5 .:.5 G1:.5 .:.5", False, "error"),  # too long a silence
    ],
)
def test_a_note_may_pass_across_a_rest(line: str, passes: bool, level: str) -> None:
    text = f"{KEYS}sub | A1:4 | F1:4 | C2:4 | G1:4 || {line} | F1:4 | C2:4 | G1:4 "
    text += "|| A1:4 | F1:4 | C2:4 | G1:4 |*2"
    assert passes_through(heard(text))[5] == passes
    assert [f.level for f in judged(text, OFF_ROOT).findings] == [level]


@pytest.mark.parametrize(
    ("line", "share"),
    [
        ("A1:2 G1:.5 F#1:1.5", 0.5),
        ("A1:2 G1:1 F#1:1", 1 / 3),
        ("A1:1 G1:1 G1:1 F#1:1", 0.2),  # struck again: it stands for two beats
        ("A1:2 G1:1 A1:1", 0.0),
    ],
)
def test_what_passes_is_excused_the_less_the_longer_it_stands(line: str, share: float) -> None:
    chart = heard(f"{KEYS}sub | {line} | F1:4 | C2:4 | G1:4 |*4")
    assert passes_briefly(chart)[1] == pytest.approx(share)


def test_a_chord_struck_before_its_root_is_told_is_a_goal() -> None:
    """The bar's chord counts as one: B sounds only from the third beat, where A# leads."""
    keys = "tempo 140\nkeys | A3+C4+E4:2 A3+C4+E4+B4:2 |*8\n"
    line = "A1:1 A#1:1 B1:2"
    assert leads_home(heard(f"{keys}sub | {line} |*8"))[1] == 1
    sounds = keys.replace("A3+C4+E4:2 A", "A3+C4+E4+B4:2 A")
    assert leads_home(heard(f"{sounds}sub | {line} |*8"))[1] == 0


def test_a_dotted_quarter_is_a_beat_of_twelve_eighths() -> None:
    keys = "tempo 140\nmeter 12/8\nkeys | A3+C4+E4:6 | F3+A3+C4:6 |*8\n"
    chart = heard(f"{keys}sub | A1:4.5 F#1:1.5 | F1:6 |*8")
    assert np.flatnonzero(leads_home(chart))[0] == 1
    assert chart.song.grid.felt_beat(np.array([0]))[0] * 2 == chart.song.division * 3


def test_figures_by_the_share_that_leads_home_or_is_held_over() -> None:
    chart = heard(f"{KEYS}sub | A1:3 F#1:1 | F1:4 | C2:4 | G1:4 |*4")
    assert figure_leads_home(chart)[1] == 1.0
    held = heard(f"{KEYS}sub | A1:4 | A1:4 | C2:4 | C2:4 |*4")
    assert figure_held_over(held)[3] == 1.0  # C goes on under G
    assert figure_held_over(held)[0] == 0.0


def test_an_approach_in_every_copy_is_only_noted() -> None:
    """A beat that leads by a semitone into the next root, each time the loop comes round."""
    text = f"{KEYS}sub | A1:4 | F1:4 | C2:3 G#1:1 | G1:3 G#1:1 |*4"
    told = judged(text, OFF_ROOT).findings
    assert [f.level for f in told] == ["note", "note"]
    assert all("leads on as an approach does" in f.message for f in told)


@pytest.mark.parametrize(
    ("chord", "note", "third", "left_out"),
    [
        ("C4+E4+G4", "A1", True, True),  # Am7
        ("A3+C4+E4", "F1", True, True),  # Fmaj7
        ("F3+A3+C4", "G1", False, True),  # G11
        ("C4+E4+G4", "C#1", False, False),
        ("C4+E4+G4", "G1", False, False),  # a tone of it
    ],
)
def test_chords_whose_root_is_left_to_the_bass(
    chord: str, note: str, third: bool, left_out: bool
) -> None:
    chart = heard(f"tempo 140\nkeys | {chord}:4 |*8\nsub | {note}:4 |*8")
    assert bool(third_under(chart)[2]) is third
    assert bool(root_left_out(chart)[2]) is left_out


def test_a_lone_approach_is_a_warning_at_most() -> None:
    """C# leads from F into C and rubs with C: nearly sure to be a slip, and an approach as well."""
    text = f"{KEYS}sub | A1:4 | F1:3 C#2:1 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    (told,) = judged(text, OFF_ROOT).findings
    assert told.level == "warning" and told.certainty > 0.8
    assert "leads on as an approach does" in told.message


def test_a_leading_tone_is_only_noted() -> None:
    """B leads up from F into C. Both such notes read in songs of other people were meant."""
    up = f"{KEYS}sub | A1:4 | F1:3 B1:1 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    keys = up.replace("F3+A3+C4:4", "F3+Bb3+C4:4")
    for text in (up, keys):
        assert {f.level for f in judged(text, OFF_ROOT).findings} <= {"note"}
    assert any("leads up" in f.message for f in judged(keys, OFF_ROOT).findings)


@pytest.mark.parametrize(
    ("bar", "leans"),
    [
        ("A1:1.5 D#2:.5 E2:2", True),
        ("A1:1 D#2:1 E2:2", False),  # a beat
        ("E2:1.5 D#2:.5 E2:2", False),  # from the tone it goes to
        ("A1:1.5 D#2:.5 D2:2", False),  # into one that nobody plays
        ("A1:1.5 D2:.5 E2:2", False),  # by a whole tone
    ],
)
def test_half_a_beat_leans_on_the_tone_after_it(bar: str, leans: bool) -> None:
    """D# under A–C–E (appoggiatura from below: Open Music Theory)."""
    text = f"{KEYS}sub | {bar} | F1:4 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    assert bool(leans_or_runs_out(heard(text))[1]) == leans
    told = [f for f in judged(text, OFF_ROOT).findings if f.where.bar == 1]
    assert not (leans and told)


def test_on_the_bar_line_half_a_beat_leans_on_nothing() -> None:
    chart = heard(f"{KEYS}sub | A1:4 | E2:.5 F2:3.5 | C2:4 | G1:4 |*4")
    assert not leans_or_runs_out(chart).any()


@pytest.mark.parametrize(
    ("keys", "last", "runs_out"),
    [
        (".:4", "1", True),
        (".:3 C4+Eb4+G4:1", "1", True),  # alone where it begins
        ("A3+C4+E4:4", "1", False),
        (".:4", "1.5", False),
    ],
)
def test_the_end_of_a_run_of_the_bass_alone_is_let_be(keys: str, last: str, runs_out: bool) -> None:
    """C B Bb A without harmony, Ab where C–Eb–G comes back, then a leap."""
    chords = f"tempo 140\nkeys | C4+Eb4+G4:4 | {keys} | C4+Eb4+G4:4 | C4+Eb4+G4:4 |*4\n"
    line = f"C2:4 | C2:1 B1:1 Bb1:1 A1:1 | Ab1:{last} C2:{4 - float(last):g} | C2:4"
    text = f"{chords}sub | {line} || C2:4 | C2:4 | C2:4 | C2:4 |*3"
    assert bool(leans_or_runs_out(heard(text))[5]) == runs_out


@pytest.mark.parametrize(
    ("bar", "leads"),
    [
        ("A1:2 F#1:2 | F1:2 C2:2", True),
        ("A1:1 .:1 F#1:2 | F1:2 C2:2", True),
        ("A1:1 E2:1 F#1:2 | F1:2 C2:2", False),  # moved in beats before
        ("A1:2 F#1:2 | F1:4", False),  # stays
        ("A1:1.5 F#1:2.5 | F1:2.5 C2:1.5", False),  # longer than half a bar
    ],
)
def test_a_line_in_half_notes_leads_in_half_notes(bar: str, leads: bool) -> None:
    chart = heard(f"{KEYS}sub | {bar} | C2:4 | G1:4 |*4")
    row = int(np.flatnonzero(chart.bass.pitch == 30)[0])
    assert bool(leads_home(chart)[row]) == leads


@pytest.mark.parametrize(("first", "leads"), [("Bb1", True), ("B1", False)])
def test_semitones_on_both_sides_lead_to_any_tone_that_others_play(first: str, leads: bool) -> None:
    """Bb G# A round the root of Am, in mid-bar; with B it is a step and a semitone."""
    chart = heard(f"{KEYS}sub | E2:1 {first}:.75 G#1:.25 A1:2 | F1:4 | C2:4 | G1:4 |*4")
    assert leads_home(chart)[1:3].tolist() == [leads, leads]


@pytest.mark.parametrize(("after", "share"), [(".:1 G1:3", 1.0), ("G1:4", 0.25)])
def test_a_copy_with_a_rest_after_it_leads_as_the_others_do(after: str, share: float) -> None:
    """B before C in one of four copies; in the others the bar line is left out, or G comes."""
    copies = " | ".join(f"A1:4 | F1:3 B1:1 | {then} | G1:4" for then in ("C2:4", *[after] * 3))
    chart = heard(f"{KEYS}sub | {copies} |")
    row = int(np.flatnonzero(chart.bass.pitch == 35)[0])
    assert figure_leads_home(chart)[row] == pytest.approx(share)


@pytest.mark.parametrize(
    ("bar", "level"),
    [("A1:2 G#1:1 A1:1", "warning"), ("A1:1 G#1:2 A1:1", "error"), ("A1:2 G#1:1 .:1", "error")],
)
def test_a_neighbour_of_a_beat_is_a_warning_at_most(bar: str, level: str) -> None:
    """Neighbour notes: Open Music Theory."""
    rest = "F1:4 | C2:4 | G1:4"
    text = f"{KEYS}sub | A1:4 | {rest} || {bar} | {rest} || A1:4 | {rest} |*2"
    assert [f.level for f in judged(text, OFF_ROOT).findings if f.where.bar == 5] == [level]


@pytest.mark.parametrize(("chime", "told"), [("F#5:1 .:3", ["note"]), (".:4", ["error"])])
def test_where_the_others_rub_so_by_themselves_it_is_noted(chime: str, told: list[str]) -> None:
    """F# under F–A–C, a chime of F# in the chord right before it or none."""
    chimes = f"chime | .:4 | {chime} | .:4 | .:4 || .:4 |*12\n"
    roots = "A1:4 | F1:4 | C2:4 | G1:4"
    text = f"{KEYS}{chimes}sub | A1:4 | C2:1 F#1:1 C2:2 | C2:4 | G1:4 || {roots} |*3"
    assert [f.level for f in judged(text, OFF_ROOT).findings if f.where.bar == 2] == told


@pytest.mark.parametrize(
    ("bars", "resolves"),
    [
        ("D2:2 C2:2 | G1:4", True),
        ("F2:2 E2:2 | G1:4", True),  # by a semitone
        ("D2:1 .:1 D2:1 C2:1 | G1:4", True),  # struck again before
        ("D2:2 E2:2 | G1:4", False),  # up
        ("E2:2 D2:2 | G1:4", False),  # to no tone of the chord
        ("A#1:2 G1:2 | A1:4", False),  # by three semitones
        ("D2:2 .:1 C2:1 | G1:4", True),
        ("D2:2 .:2 | C2:4", False),  # nothing follows it
        ("A1:4 | G1:4", False),  # into a tone of the next chord
    ],
)
def test_a_suspension_resolves_down_by_step_in_its_chord(bars: str, resolves: bool) -> None:
    """Under C, then G (Open Music Theory: suspensions)."""
    chart = heard(f"{KEYS}sub | A1:4 | F1:4 | {bars} || A1:4 | F1:4 | C2:4 | G1:4 |*3")
    assert bool(resolves_down(chart)[2]) is resolves
