"""What is said of the pitch wheel: left off its centre, and read on a range that nobody stated."""

from __future__ import annotations

from dataclasses import replace

import pytest
from beats import judged
from slide_beat import (
    BAR,
    BOOK,
    RINGS,
    SPECIAL,
    TEMPO,
    arrangement,
    findings,
    mended,
)
from slide_songs import (
    Event,
    bend_range,
    note,
    ramp,
    songs_of,
    wheel,
)

from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import Finding


def test_an_open_wheel_is_closed_once_for_all_notes_after_it() -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 7.0)], 12, 30)
    events = [*bend_range(0, 12), *curve, *note(base, base + 1680, 29)]
    found = [f for f in findings(events, RINGS) if f.rule == "bend-left-open"]
    assert [(f.where.bar, f.where.beat) for f in found] == [(SPECIAL + 2, 1.0)]
    assert "7 semitones sharp" in found[0].message
    _, left, _ = mended(events, RINGS)
    assert left == []


@pytest.mark.parametrize(
    ("homeward", "flagged"),
    [
        # it starts a fifth too high, and only its own bend brings the wheel back first
        ([(360, 0.0), *[(360 + 30 * k, 0.5 * k) for k in range(1, 5)], (1700, 0.0)], True),
        ([(360, 0.0)], True),  # closed late, at one jump
        # the jump goes to where its own slide sets out
        ([(360, 0.6), *[(360 + 30 * k, 0.6 + 0.5 * k) for k in range(1, 5)], (1700, 0.0)], True),
        ([(300 + 30 * k, 7.0 - k) for k in range(1, 8)], False),  # it glides down from there: meant
        ([(360, 3.5), (1700, 0.0)], False),  # half way and no further: meant, too
        ([(10, 0.0)], False),  # 12 ms: the attack is over no sooner
    ],
)
def test_a_note_that_jumps_home_started_on_an_open_wheel(
    homeward: list[tuple[int, float]], flagged: bool
) -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 7.0)], 12, 30)
    after = base + BAR
    later = [wheel(after + at, round(value / 12 * 8191)) for at, value in homeward]
    events = [*bend_range(0, 12), *curve, *note(base, base + 1680, 29), *later]
    found = [f.where.bar for f in findings(events, RINGS) if f.rule == "bend-left-open"]
    assert found == ([SPECIAL + 2] if flagged else [])


def test_a_wheel_set_for_a_note_is_not_left_open() -> None:
    base = SPECIAL * BAR
    events = [*bend_range(0, 12), wheel(base, -2000), *note(base, base + 1680, 29),
              wheel(base + 1700, 0)]  # fmt: skip
    told = findings(events, RINGS)  # it sounds D, and is set so: of the wheel there is no word
    assert [f.rule for f in told] == ["off-root"]


def test_a_wheel_that_steps_from_note_to_note_is_not_left_open() -> None:
    """A riser: every note is set a little higher, none is bent while it sounds."""
    base = SPECIAL * BAR
    events = [*bend_range(0, 12), wheel(base + 1920, 0)]
    for step in range(8):
        at = base + 240 * step
        events += [wheel(at, 200 * step), *note(at, at + 180, 29)]
    assert [f for f in findings(events, RINGS) if f.rule.startswith("bend")] == []


def test_a_bend_too_small_to_be_a_slide_at_two_semitones_is_noted_too() -> None:
    """Three semitones drawn for ±24: a quarter of one where the range is lost."""
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 0.25), (base + 1700, 0.25), (base + 1710, 0)],
                 2, 30)  # fmt: skip
    (found,) = findings([*curve, *note(base, base + 1680, 29)], RINGS)
    assert (found.rule, found.level, found.where.tick) == ("bend-range-assumed", "note", base)


def test_a_note_struck_on_a_wheel_that_is_off_centre_is_bent() -> None:
    base = SPECIAL * BAR
    said = findings([wheel(base - 10, 8191), *note(base, base + 1680, 29)], RINGS)
    assert [f.where.tick for f in said if f.rule == "bend-range-assumed"] == [base]


def test_an_assumed_range_is_noted_and_softens_the_verdict() -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 1.0), (base + 1700, 1.0), (base + 1710, 0)],
                 2, 30)  # fmt: skip
    said = [(f.rule, f.level) for f in findings([*curve, *note(base, base + 1680, 29)], RINGS)]
    assert sorted(said) == [("bend-range-assumed", "note"), ("slide-off-scale", "warning")]


def test_a_range_before_its_selector_is_named() -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 2.0), (base + 1700, 2.0), (base + 1710, 0)],
                 2, 30)  # fmt: skip
    lost = bend_range(0, 12, order="coarse fine lsb msb")
    (found,) = findings([*lost, *curve, *note(base, base + 1680, 29)], RINGS)
    assert (found.rule, found.level) == ("bend-range-assumed", "warning")
    assert "±12 semitones before" in found.message


def drawn_for(reach: float, stated: float | None, landings: list[int]) -> list[Event]:
    """Bends in the bars of F, drawn for a range of ±``reach`` semitones."""
    events: list[Event] = [] if stated is None else bend_range(0, stated)
    for nth, semitones in enumerate(landings):
        base = (SPECIAL + 4 * nth) * BAR
        curve = [(base + 300, 0.0), (base + 500, float(semitones)), (base + 1600, float(semitones)),
                 (base + 1640, 0.0)]  # fmt: skip
        events += ramp(curve, reach, 20)
        events += note(base, base + 1600, 29)
    return events


def bends(reach: float, stated: float | None, landings: list[int]) -> list[Finding]:
    keys, bass = arrangement([])
    free = [
        e
        for e in bass
        if not any(0 <= e[0] - (SPECIAL + 4 * n) * BAR < BAR for n in range(len(landings)))
    ]
    song = songs_of(keys, free + drawn_for(reach, stated, landings), tempo=TEMPO)
    facts = replace(RINGS, decay_s=None)
    return [f for f in judge(Chart(song, facts), BOOK).findings if f.family == "slides"]


def test_the_range_at_which_all_bends_land_on_the_scale_is_offered() -> None:
    """F up to C and D, down to C: seven, nine and five semitones of A minor, drawn for ±12."""
    (offer,) = bends(12, None, [7, 9, -5])
    assert (offer.rule, offer.level) == ("bend-range-assumed", "warning")
    assert "as assumed, 3 of 3 landings are off the scale; at ±12 semitones all 3" in offer.message
    assert bends(12, 12, [7, 9, -5]) == []


@pytest.mark.parametrize(("down", "offered"), [(-10, True), (-15, False)])
def test_no_range_is_offered_that_bends_below_what_is_heard(down: int, offered: bool) -> None:
    """ISO 226 begins at 20 Hz: G0 is 24.5 Hz, D0 18.4 Hz; both are notes of A minor."""
    (found,) = (f for f in bends(24, None, [7, down, 9]) if f.rule == "bend-range-assumed")
    assert ("±24" in found.message, found.level == "warning") == (offered, offered)


def test_bends_that_fit_as_assumed_are_let_be() -> None:
    (note_of_it,) = bends(2, None, [2, 2, 2])  # F up to G
    assert (note_of_it.rule, note_of_it.level) == ("bend-range-assumed", "note")


def test_one_bend_of_many_that_lands_off_the_scale_speaks_for_no_other_range() -> None:
    """F up to G four times and once to F#, which ±12 would put right as B; one of four would."""
    said = [(f.rule, f.level) for f in bends(2, None, [2, 2, 2, 2, 1])]
    assert said == [("bend-range-assumed", "note"), ("slide-off-scale", "warning")]
    (offer,) = bends(2, None, [2, 2, 2, 1])
    assert "1 of 4 landings is off the scale; at ±12 semitones all 4" in offer.message


def test_no_fix_of_a_bend_is_safe_while_its_range_is_a_guess() -> None:
    guessed = bends(2, None, [1])  # F#, if the range is ±2
    assert [f.fix.kind for f in guessed if f.fix] == ["by-ear"]
    stated = bends(2, 2, [1])
    assert [f.fix.kind for f in stated if f.fix] == ["safe"]


@pytest.mark.parametrize(("length", "flagged"), [(30, False), (240, True)])
def test_a_note_over_before_its_pitch_is_heard_starts_on_no_open_wheel(
    length: int, flagged: bool
) -> None:
    """A dive, a note on its way down, and home: 30 ticks are 31 ms at 120 bpm, a finger's noise."""
    base = SPECIAL * BAR
    dive = ramp([(base + 240, 0.0), (base + 480, -3.0)], 12, 30)
    passing = base + 960
    events = [*bend_range(0, 12), *dive, *note(base, base + 480, 29)]
    events += [*note(passing, passing + length, 29), wheel(passing + length, 0)]
    found = [f.where.bar for f in findings(events, RINGS) if f.rule == "bend-left-open"]
    assert found == ([SPECIAL + 1] if flagged else [])


def test_a_wheel_left_open_in_every_copy_of_a_loop_is_one_finding() -> None:
    text = """tempo 140
keys | F3+A#3+D4:4 | F3+A3+C4:4 | F3+A3+C4:4 | C4+E4+G4:4 |*4
sub wheel 12
sub bend | 1:0 | 1:0 2:0 2.5:+5 | 4.9:+5 | 1:0 |*4
sub | A#1:3.5 .:.5 | F1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 |*4"""
    (only,) = [f for f in judged(text, BOOK).findings if f.rule == "bend-left-open"]
    assert [w.bar for w in only.places] == [3, 7, 11, 15] and only.level == "error"
    assert only.message.startswith("4 notes of sub start where earlier bends")
    assert only.fix is not None and len(only.fix.edits) == 4
