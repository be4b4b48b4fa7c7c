"""What is said of a note where root, scale or phrase is not sure, and how it is mended.

Chords and scales: Open Music Theory. Pedals, patterns and gaps: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard, judged, report

from basslint.hear.facts import Facts, StatedKey
from basslint.hear.form.hypermeter import four_bar_share
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.readings.base import registered
from basslint.readings.recurrence import figure_bars
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat

BOOK = {rule.name: rule for rule in read_book()}
LOOP = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"


def found(text: str, *rules: str) -> list[tuple[str, str, int]]:
    verdict = judged(text, [BOOK[name] for name in rules])
    return [(f.rule, f.level, f.where.bar) for f in verdict.findings]


def test_two_tones_are_too_few_to_accuse_a_bass_under_them() -> None:
    keys = "tempo 140\nkeys | C5+E5:4 | B4+D5:4 |\n"
    verdict = judged(f"{keys}sub | F#1:3.5 .:.5 | G1:3.5 .:.5 |", [BOOK["off-root"]])
    assert verdict.findings == ()
    (unjudged,) = verdict.unjudged
    assert "too few tones" in unjudged.reason


@pytest.mark.parametrize("root", ["A1", "C2", "E2"])
def test_and_what_fits_one_of_the_two_is_not(root: str) -> None:
    keys = "tempo 140\nkeys | C5+E5:4 | B4+D5:4 |\n"
    assert found(f"{keys}sub | {root}:3.5 .:.5 | G1:3.5 .:.5 |", "off-root") == []


def test_a_tune_alone_accuses_no_bass() -> None:
    tune = "lead | A4:1 C5:1 E5:2 | F5:1 E5:1 C5:2 | D5:1 C5:1 B4:2 | A4:4 |*2\n"
    for sub in (
        "A1:4 | F1:4 | G1:4 | A1:4",
        "F1:4 | D1:4 | E1:4 | F1:4",
        "A1:4 | E1:4 | E1:4 | A1:4",
    ):
        told = found(f"tempo 140\n{tune}sub | {sub} |*2", "off-root")
        assert [level for _, level, _ in told if level != "note"] == []


def test_a_slide_is_judged_where_the_scale_is_doubtful_but_the_landing_is_not() -> None:
    """C, D, G and A may be of the scale of F, C or G; C sharp is of none of them."""
    keys = "tempo 140\nkeys | C4+D4+G4:4 | D4+G4+A4:4 |*4\n"
    text = keys + "sub | G1:2~.5 C#2:2 | D2:4 | G1:4 | D2:4 |*2"
    chart = heard(text)
    assert chart.keys.scale_certainty[0] < 0.85
    (only,) = judged(text, [BOOK["slide-off-scale"]]).findings  # with its copy
    assert (only.level, only.where.bar, [w.bar for w in only.also]) == ("error", 1, [5])


def test_a_landing_that_one_likely_scale_has_is_only_noted() -> None:
    """G, A, B, D and E are of the scales of G, C and D; C sharp is of the last."""
    keys = "tempo 140\nkeys | G3+B3+D4:4 | A3+D4+E4:4 |*4\n"
    findings = judged(keys + "sub | D2:2~.5 C#2:2 | G1:4 |*4", [BOOK["slide-off-scale"]]).findings
    (only,) = findings
    assert [w.bar for w in only.also] == [3, 5, 7]
    assert only.level == "note" and "if that is the key" in only.message


def test_a_semitone_over_the_root_held_for_a_beat_is_no_neighbour() -> None:
    lead = "tempo 140\nkey D minor\nkeys | D3+F3:4 | C3+E3:4 |*4\n"
    long = "sub | D2:4 | C2:1.5 Db2:1 C2:1.5 |" + " D2:4 | C2:4 |" * 3
    brief = "sub | D2:4 | C2:1.5 Db2:.5 C2:2 |" + " D2:4 | C2:4 |" * 3
    assert found(lead + long, "outside-scale") == [("outside-scale", "warning", 2)]
    assert found(lead + brief, "outside-scale") == []


@pytest.mark.parametrize(
    ("why", "sub", "bars"),
    [
        ("an octave line leaps to a fifth", "A1:2 A2:2 | F1:2 F2:2 | G1:4 | G1:2 G2:2", [3]),
        ("an octave line, right", "A1:2 A2:2 | F1:2 F2:2 | C2:2 C1:2 | G1:2 G2:2", []),
        ("the fifth first, then the root", "E2:2 A1:2 | C2:2 F1:2 | G1:2 C2:2 | D2:2 G1:2", []),
    ],
)  # fmt: skip
def test_inversions_in_lines_of_octaves_and_of_two_notes(
    why: str, sub: str, bars: list[int]
) -> None:
    once = sub.replace("G1:4", "C2:2 C1:2")
    text = f"{LOOP}sub | {sub} || {once} |*3"
    assert [bar for _, _, bar in found(text, "inverted-root")] == bars, why


@pytest.mark.parametrize(
    ("rest", "bars"), [("F1:4 | A1:4 | F1:4", [4]), ("F1:4 | A1:4 | A1:4", [])]
)
def test_a_line_of_two_notes_that_fails_to_move_for_once(rest: str, bars: list[int]) -> None:
    """A under F is its third: a slip where the line goes to F all other times."""
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*8\n"
    text = f"{keys}sub | A1:4 | F1:4 | A1:4 | A1:4 || A1:4 | {rest} |*3"
    assert [bar for _, _, bar in found(text, "inverted-root")] == bars


@pytest.mark.parametrize(
    ("keys", "root", "name"),
    [
        ("G#3+B3+D4+F#4", "E1", "E9"),
        ("G3+B3+D4+F#4", "E1", "Em9"),
        ("A3+C4+E4+G4", "F1", "Fmaj9"),
        ("C4+E4+G4+D5", "A1", "Am11"),
    ],
)
def test_keys_that_leave_the_root_to_the_bass_make_a_chord_with_it(
    keys: str, root: str, name: str
) -> None:
    """Chords: Open Music Theory."""
    text = f"tempo 90\nkeys | {keys}:4 |*4\nsub | {root}:3.5 .:.5 |*4"
    column = registered("bass-note")["heard_as"].column(heard(text))
    assert column.tolist() == [name] * 4


def test_such_a_root_is_not_moved_where_the_loop_plays_it_the_other_times() -> None:
    """F under Am7 makes Fmaj9; where F# slips in, F is what the loop plays there."""
    keys = "tempo 90\nkeys | G3+B3+D4:4 | A3+C4+E4+G4:4 | E3+G3+B3:4 | D3+F3+A3:4 |*4\n"
    sub = "G1:4 | F1:4 | E1:4 | D1:4"
    text = f"{keys}sub | {sub.replace('F1', 'F#1')} || {sub} |*3"
    (only,) = [f for f in judged(text, [BOOK["off-root"]]).findings if f.level == "error"]
    assert only.fix is not None and only.fix.title == "Move F#1 to F1"
    beat = compile_beat(text)
    result = mend(beat.data, lambda data: report(data, beat.facts, [BOOK["off-root"]]), Choice())
    assert len(result.applied) == 1 and result.faults == ()
    # the F is noted now as it is the other times: less grave, so the cure is worth it
    assert [f.level for f in result.after.findings if f.where.bar == 2] in ([], ["note"])


def test_an_eighth_that_steps_into_a_long_note_on_the_bar_line_leads_there() -> None:
    """The keys leave out the E of Em9, so that G is heard as its root; D# leads into E."""
    keys = "tempo 90\nkeys | A3+C4+E4:4 | G3+B3+D4+F#4:4 |*4\n"
    sub = "A1:3 .:.5 {}:.5 | E1:3.5 .:.5"
    assert found(f"{keys}sub | {sub.format('D#1')} |*4", "off-root", "outside-scale") == []
    late = "A1:3.5 .:.5 | D#1:.5 E1:3 .:.5"  # on the bar line it is no approach
    assert found(f"{keys}sub | {late} || {sub.format('.')} |*3", "off-root") != []


def test_a_rub_that_comes_once_is_told_though_its_bass_figure_returns() -> None:
    keys = "tempo 140\nkeys | C4+E4+G4:4 | A3+C4+E4:4 |*8\n"
    sub = "sub | C2:3.5 .:.5 | F#1:2 A1:2 |*8\n"
    once = "lead | .:4 | G6:2 .:2 || .:4 | D6:2 .:2 |*7"
    ever = "lead | .:4 | G6:2 .:2 |*8"
    told = [found(f"{keys}{sub}{lead}", "rubs-with-harmony") for lead in (once, ever)]
    assert [bar for _, _, bar in told[0]] == [2]
    assert told[1] == []


def test_a_foreign_tone_held_against_a_pedal_is_noted() -> None:
    keys = "keys | A3+C4+E4:4 | F3+A3+C4:4 | D4+F4+A4:4 | E4+G4+B4:4 |*4\n"
    held = "lead | .:4 | .:4 | .:4 | Bb4:4 || .:4 |*12\n"
    text = f"tempo 140\nkey A minor\n{keys}{held}sub | A1:3.5 .:.5 |*16"
    assert found(text, "rubs-with-harmony") == [("rubs-with-harmony", "note", 4)]
    assert found(text.replace("Bb4", "C5"), "rubs-with-harmony") == []


class TestWhereTheLoopStartsOver:
    SUB = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | {last} |"

    def beat(self, *lasts: str) -> str:
        bars = " ".join(self.SUB.format(last=last) for last in lasts)
        return f"{LOOP}sub | {bars}\ndrums | C2 D2 C2 D2 |*16"

    def test_a_note_held_into_any_repeat_of_the_loop_lacks_air(self) -> None:
        air, none = "G1:3.5 .:.5", "G1:4"
        for place in range(3):
            lasts = [air] * 4
            lasts[place] = none
            assert found(self.beat(*lasts), "no-air-before-repeat") == [
                ("no-air-before-repeat", "note", 4 * place + 4)
            ]
        assert found(self.beat(*[air] * 4), "no-air-before-repeat") == []

    def test_fours_are_sure_where_eights_may_be_heard_instead(self) -> None:
        chart = heard(self.beat(*["G1:3.5 .:.5"] * 4))
        share = four_bar_share(chart.phrases)
        assert share.shape == (17,)
        assert share[[0, 4, 8, 12, 16]].min() > 0.9 and share[[1, 2, 3, 5, 6, 7]].max() < 0.1


class TestMending:
    """A slip goes to what its loop plays there; without a loop, to the nearest note."""

    TUNE = "lead | A4:1 C5:1 E5:2 | F5:1 E5:1 C5:2 | D5:1 C5:1 B4:2 | A4:4 |*2\n"

    def moved(self, sub: str) -> int:
        beat = compile_beat(f"tempo 140\nkey A minor\n{self.TUNE}sub | {sub}")
        rules = [BOOK["outside-scale"]]
        result = mend(beat.data, lambda data: report(data, beat.facts, rules), Choice(by_ear=True))
        (applied,) = result.applied
        return int(applied.fix.edits[0].after or 0)

    def test_what_the_loop_plays_there(self) -> None:
        bars = "A1:2 E1:2 | D2:2 {} | A1:2 E1:2 | D2:4 | A1:2 E1:2 | D2:2 A1:2 | A1:2 E1:2 | D2:4 |"
        assert self.moved(bars.format("C#2:2")) == 33

    def test_a_note_a_hair_before_its_bar_keeps_its_place(self) -> None:
        bars = "A1:2 E1:2 | D2:2 {} | A1:2 E1:2 | D2:4 | A1:2 E1:2 | D2:2 A1:2 | A1:2 E1:2 | D2:4 |"
        early = bars.replace("A1:2 E1:2 | D2:4 | A1:2", "A1:2 E1:1.95 | D2:4.05 | A1:2", 1)
        assert self.moved(early.format("C#2:2")) == 33

    def test_the_tone_that_the_line_stands_on_around_it(self) -> None:
        bars = "A1:2 E1:2 | D2:1 F#2:1 D2:2 | F1:3 G1:1 | D2:4 | C2:1 A1:3 | E1:4 | G1:4 | A1:4 |"
        assert self.moved(bars) == 38

    def test_a_tone_beyond_a_long_rest_is_not_around_it(self) -> None:
        bars = "A1:2 E1:2 | D2:1 .:3 | F#2:1 .:2 D2:1 | D2:4 | C2:1 A1:3 | E1:4 | G1:4 | A1:4 |"
        assert self.moved(bars) in (41, 43)

    def test_the_nearest_where_nothing_comes_back(self) -> None:
        bars = "A1:2 E1:2 | D2:2 C#2:2 | F1:3 G1:1 | D2:4 | C2:1 A1:3 | E1:4 | G1:2 F1:2 | A1:4 |"
        assert self.moved(bars) in (36, 38)


def test_a_stated_key_leaves_no_doubt() -> None:
    """Heard, the scale may have C sharp; C major, once stated, has it not."""
    keys = "keys | G3+B3+D4:4 | A3+D4+E4:4 |*4\n"
    beat = compile_beat(f"tempo 140\n{keys}sub | D2:2~.5 C#2:2 | G1:4 |*4")
    rules = [BOOK["slide-off-scale"]]
    told = report(beat.data, Facts(key=StatedKey(0, "major")), rules).findings
    assert {f.level for f in told} == {"error"}
    assert all("C major" in f.message for f in told)


class TestFiguresThatReturn:
    LOOP = "tempo 140\nkeys | A3+C4+E4:4 |*8\nsub | {} |"
    OFF = "F#1:1.5 .:.5 A1:2"

    def told(self, *bars: str) -> list[tuple[str, str, int]]:
        return found(self.LOOP.format(" | ".join(bars)), "off-root")

    def test_a_copy_a_hair_early_is_still_a_copy(self) -> None:
        root = "A1:4"
        even = (root, self.OFF, root, self.OFF, root, self.OFF, root, root)
        early = ("A1:3.95 F#1:.05~1.5", ".:2 A1:2", root, self.OFF, root, self.OFF, root, root)
        for bars in (even, early):
            chart = heard(self.LOOP.format(" | ".join(bars)))
            assert figure_bars(chart)[chart.bass.pitch == 30].tolist() == [3, 3, 3]
            assert [f[1] for f in self.told(*bars)] in ([], ["warning"])  # it rubs with nothing

    def test_a_first_copy_too_short_to_be_judged_does_not_hide_the_others(self) -> None:
        long, short = "A1:2 G#1:1.5 .:.5", "A1:2 G#1:1/4 .:1.75"
        bars = (short, "A1:4", long, "A1:4", long, "A1:4", long, "A1:4")
        assert self.told(*bars) == [("off-root", "error", 3)]


def test_a_short_note_of_a_likely_scale_is_only_noted() -> None:
    """F is of C major and D minor, which G, A, B, D and E leave open; G sharp is of neither."""
    bars = "G1 D2 E2 D2 | A1 E2 B1 E2 | D2:1.5 {} G1:1 | G1 D2 E2 D2 | A1 E2 B1 E2 | D2 A1 D2 A1"
    line = f"tempo 120\nsub | {bars} | G1 D2 E2 D2 | A1 E2 B1 E2 |\n"
    for tone, level in (("F2:.5 .:1", "note"), ("G#1:1.5", "warning")):
        (only,) = judged(line.format(tone), [BOOK["outside-scale"]]).findings
        assert only.level == level
        assert ("if that is the key" in only.message) is (level == "note")
