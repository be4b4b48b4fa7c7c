"""What is said of slides, and how they are mended: alike in every way that MIDI writes them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from beats import judged, report
from slide_songs import (
    Event,
    bend_range,
    control,
    midi_of,
    note,
    ramp,
    songs_of,
    to_wheel,
    wheel,
)

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedKey
from basslint.hear.slides.slides import Slides
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat

BOOK = [r for r in read_book() if r.family in ("slides", "harmony")]
BAR = 1920
TEMPO = 428_571  # 140 bpm: a quarter is 428.6 ms, a glide of 100 ms 112 ticks
GLIDE = 112
CHORDS = {"Am": (57, 60, 64), "F": (53, 57, 60), "C": (60, 64, 67), "G": (55, 59, 62)}
ROOTS = {"Am": 33, "F": 29, "C": 36, "G": 31}
LOOP = ["Am", "F", "C", "G"] * 4
SPECIAL = 5  # the bar with the slide; its chord is F


def arrangement(special: list[Event]) -> list[list[Event]]:
    """Chords on channel 2 and roots on channel 1, with other bass events in one bar."""
    keys = [e for b, c in enumerate(LOOP) for p in CHORDS[c]
            for e in note(b * BAR, (b + 1) * BAR, p, 2)]  # fmt: skip
    roots = [e for b, c in enumerate(LOOP) if b != SPECIAL
             for e in note(b * BAR, b * BAR + 1680, ROOTS[c])]  # fmt: skip
    return [keys, roots + special]


def ways(target: int, at: int, length: int, origin: int = 29) -> dict[str, list[Event]]:
    """A slide in bar 6 from ``origin``, ``at`` ticks after its stroke, in every way."""
    struck = SPECIAL * BAR
    start, end = struck + at, struck + at + length
    held = [*note(struck, start + 50, origin), *note(start, end, target)]
    cut = min(length, GLIDE)
    height = (target - origin) * cut / GLIDE
    curve = ramp([(start, 0), (start + cut, height)], 24, 4)
    if cut < GLIDE:  # the note ends, the wheel goes on
        curve += ramp([(start + cut, height), (start + GLIDE, float(target - origin))], 24, 4)[1:]
    return {
        "overlap": held,
        "bend": [*bend_range(0, 24), wheel(0, 0), *curve, wheel(end + 200, 0),
                 *note(struck, end, origin)],
        "switch": [control(struck + 10, 65, 127), *held, control(end, 65, 0)],
        "source": [control(start, 84, origin), *held],
    }  # fmt: skip


FACTS = Facts(decay_s=0.8, key=StatedKey(9, "minor"), bass=("#2",), harmony=("#1",))


RINGS = replace(FACTS, decay_s=5.0)


def findings(events: list[Event], facts: Facts = FACTS) -> tuple[Finding, ...]:
    verdict = judge(Chart(songs_of(*arrangement(events), tempo=TEMPO), facts), BOOK)
    assert verdict.faults == ()
    return verdict.findings


SLIDES = [(t, at, length) for t in (24, 28, 30, 31, 34, 35, 36, 40, 41, 42)
          for at, length in ((240, 1400), (960, 700), (240, 60))]  # fmt: skip


@pytest.mark.parametrize(("target", "at", "length"), SLIDES)
def test_three_ways_one_verdict(target: int, at: int, length: int) -> None:
    said = {
        way: [(f.rule, f.level, f.where.tick, f.message) for f in findings(events)]
        for way, events in ways(target, at, length).items()
    }
    assert said["bend"] == said["overlap"]
    assert said["switch"] == said["overlap"]
    assert said["source"] == said["overlap"]


@pytest.mark.parametrize(
    ("target", "at", "length", "rules"),
    [
        (36, 240, 1400, []),  # a fifth up, early: C2 in A minor
        (41, 240, 1400, []),  # an octave
        (30, 240, 1400, ["slide-off-scale"]),
        (36, 960, 700, ["slide-after-decay"]),
        (36, 240, 60, ["slide-never-lands"]),
    ],
)
def test_what_is_flagged(target: int, at: int, length: int, rules: list[str]) -> None:
    for events in ways(target, at, length).values():
        assert [f.rule for f in findings(events)] == rules


def test_the_octave_is_right_in_any_key() -> None:
    song = arrangement(ways(42, 240, 1400, origin=30)["bend"])
    verdict = judge(Chart(songs_of(*song, tempo=TEMPO), FACTS), BOOK)
    assert "slide-off-scale" not in [f.rule for f in verdict.findings]


# --- mending -------------------------------------------------------------------------------------


def mended(events: list[Event], facts: Facts = FACTS) -> tuple[Slides, list[str], Chart]:
    """The slides after all fixes, what is still said, and the chart."""
    data = midi_of(*arrangement(events), tempo=TEMPO)
    result = mend(data, lambda raw: report(raw, facts, BOOK), Choice(by_ear=True))
    assert result.faults == ()
    chart = result.after.chart
    assert chart is not None
    return chart.slides, [f.rule for f in result.after.findings], chart


@pytest.mark.parametrize("way", ["overlap", "bend", "switch", "source"])
def test_off_scale_lands_on_the_scale(way: str) -> None:
    slides, left, _ = mended(ways(42, 240, 1400)[way])
    assert left == []
    assert slides.target[0] == pytest.approx(41, abs=0.02)  # the octave of F1 is next to F#2
    assert slides.land[0] == pytest.approx(SPECIAL * BAR + 240 + GLIDE, abs=2)


@pytest.mark.parametrize("way", ["overlap", "bend", "switch"])
def test_too_late_starts_on_the_grid_while_the_sound_is_heard(way: str) -> None:
    slides, left, chart = mended(ways(36, 960, 700)[way])
    assert left == []
    # 800 ms of decay fall 24 dB in 320 ms; less 100 ms of glide: 220 ms, 0.51 beats: beat 1.5
    assert slides.start[0] - SPECIAL * BAR == 240
    assert slides.level_db[0] >= -24
    assert chart.song.notes.start[slides.source_note[0]] == SPECIAL * BAR


def test_a_note_held_until_it_lands_is_not_slid_back_from_for_a_moment() -> None:
    """The voice under it is let go 30 ms after the sixteenth to which the fix would hold it."""
    base = SPECIAL * BAR
    events = [*note(base, base + 520, 29), *note(base + 240, base + 260, 41)]
    rules = [rule for rule in BOOK if rule.name == "slide-never-lands"]
    data = midi_of(*arrangement(events), tempo=TEMPO)
    after = mend(data, lambda raw: report(raw, RINGS, rules), Choice()).after
    assert after.findings == ()
    assert after.chart is not None
    notes = after.chart.song.notes
    assert notes.end[(notes.start == base + 240) & (notes.pitch == 41)].tolist() == [base + 520]


def test_off_the_grid_it_starts_as_late_as_it_may() -> None:
    slides, left, _ = mended(ways(36, 971, 700)["overlap"])
    assert left == []
    assert slides.level_db[0] == pytest.approx(-24, abs=0.1)


def test_a_sound_too_short_for_any_slide_has_no_honest_fix() -> None:
    facts = replace(FACTS, decay_s=0.2)
    (found,) = findings(ways(36, 960, 700)["overlap"], facts)
    assert found.rule == "slide-after-decay"
    assert found.fix is None


def test_velocity_counts_in_what_is_heard() -> None:
    # DLS Level 1: 40·log10(50/100) = −12 dB; the landing alone is at −16 dB
    struck, start = SPECIAL * BAR, SPECIAL * BAR + 120
    for velocity, rules in ((100, []), (50, ["slide-after-decay"])):
        events = [*note(struck, start + 60, 29, velocity=velocity), *note(start, start + 1500, 36)]
        assert [f.rule for f in findings(events)] == rules


def test_never_landing_is_held_until_it_is_there() -> None:
    slides, left, chart = mended(ways(36, 240, 60)["overlap"])
    assert left == []
    assert slides.lands.tolist() == [True]
    end = int(chart.song.notes.end[slides.note[0]])
    assert (end - SPECIAL * BAR) % 120 == 0  # to the next sixteenth


def test_a_bend_keeps_its_shape_and_its_way_back_at_its_new_height() -> None:
    base = SPECIAL * BAR
    points = [(base + 240, 0.0), (base + 480, 13.0), (base + 1000, 13.0), (base + 1200, 0.0)]
    events = [*bend_range(0, 24), *ramp(points, 24, 30), *note(base, base + 1680, 29)]
    slides, left, chart = mended(events, RINGS)
    assert left == []
    assert slides.target.tolist() == pytest.approx([41, 29], abs=0.01)
    changes = chart.song.changes
    bends = changes.take(changes.kind == 0xE0)
    want = {
        base + 360: to_wheel(6.0, 24),
        base + 480: to_wheel(12, 24),
        base + 1000: to_wheel(12, 24),
        base + 1090: to_wheel(6.6, 24),
        base + 1200: 0,
    }
    for tick, value in want.items():
        found = int(bends.value[bends.tick == tick][0])
        assert abs(found - value) <= 1, tick


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


def test_between_notes_is_scaled_to_the_nearest_of_the_scale() -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 6.6), (base + 1700, 6.6), (base + 1710, 0)],
                 12, 30)  # fmt: skip
    events = [*bend_range(0, 12), *curve, *note(base, base + 1680, 29)]
    assert [f.rule for f in findings(events, RINGS)] == ["slide-between-notes"]
    slides, left, _ = mended(events, RINGS)
    assert left == []
    assert slides.target[0] == pytest.approx(36, abs=0.02)


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


# --- accidents -----------------------------------------------------------------------------------


@cache
def accidents(line: str) -> tuple[tuple[str, str, str | None], ...]:
    keys = "keys | A3+C4+E4:4 | F3+A3+C4:4 |*4"
    verdict = judged(f"tempo 140\nkey A minor\n{keys}\nsub {line}", BOOK)
    return tuple((f.rule, f.level, f.fix.kind if f.fix else None) for f in verdict.findings)


def test_a_hair_on_a_gliding_line_is_a_slip() -> None:
    line = "| A1:2~0.5 C2:1.5 .:.5 | F1:2~0.02 A1:1.5 .:.5 || A1:3.5 .:.5 | F1:3.5 .:.5 |*3"
    assert accidents(line) == (("accidental-slide", "warning", "safe"),)


def test_a_hair_on_a_line_that_never_slides_is_only_noted() -> None:
    line = "| A1:3.5 .:.5 | F1:2~0.02 A1:1.5 .:.5 || A1:3.5 .:.5 | F1:3.5 .:.5 |*3"
    assert accidents(line) == (("accidental-slide", "note", "by-ear"),)


def test_ragged_legato_all_through_is_no_accident() -> None:
    line = "| A1:1~.02 C2:1~.02 A1:1~.02 C2:1~.02 | F1:1~.02 A1:1~.02 F1:1~.02 A1:1~.02 |*4"
    assert "accidental-slide" not in {rule for rule, _, _ in accidents(line)}


def test_without_a_decay_the_ring_that_is_needed_is_said() -> None:
    beat = compile_beat(
        "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*4\nsub | A1:2~0.5 C2:1.5 .:.5 | F1:4 |*4"
    )
    unjudged = [u for u in report(beat.data, beat.facts, BOOK).unjudged
                if u.rule == "slide-after-decay"]  # fmt: skip
    # 2 beats at 140 bpm and 100 ms of glide, 60 dB for every 24: 957 ms · 2.5
    assert "2393 ms" in unjudged[0].reason


def test_a_stray_click_of_the_mouse_slides_nowhere() -> None:
    base = SPECIAL * BAR
    events = [*note(base, base + 1200, 29), *note(base + 960, base + 962, 34)]
    assert findings(events, RINGS) == ()


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
    free = [e for e in bass if not any(0 <= e[0] - (SPECIAL + 4 * n) * BAR < BAR for n in range(3))]
    song = songs_of(keys, free + drawn_for(reach, stated, landings), tempo=TEMPO)
    facts = replace(RINGS, decay_s=None)
    return [f for f in judge(Chart(song, facts), BOOK).findings if f.family == "slides"]


def test_the_range_at_which_all_bends_land_on_the_scale_is_offered() -> None:
    """F up to C and D, down to C: seven, nine and five semitones of A minor, drawn for ±12."""
    (offer,) = bends(12, None, [7, 9, -5])
    assert (offer.rule, offer.level) == ("bend-range-assumed", "warning")
    assert "at ±12 semitones all 3 landings are notes of the scale" in offer.message
    assert bends(12, 12, [7, 9, -5]) == []


def test_bends_that_fit_as_assumed_are_let_be() -> None:
    (note_of_it,) = bends(2, None, [2, 2, 2])  # F up to G
    assert (note_of_it.rule, note_of_it.level) == ("bend-range-assumed", "note")


def test_no_fix_of_a_bend_is_safe_while_its_range_is_a_guess() -> None:
    guessed = bends(2, None, [1])  # F#, if the range is ±2
    assert [f.fix.kind for f in guessed if f.fix] == ["by-ear"]
    stated = bends(2, 2, [1])
    assert [f.fix.kind for f in stated if f.fix] == ["safe"]


@pytest.mark.parametrize(("land", "flagged"), [(500, True), (1580, False)])
def test_a_bend_at_a_note_s_very_end_lands_nowhere(land: int, flagged: bool) -> None:
    base = SPECIAL * BAR
    points = [(base + land - 200, 0.0), (base + land, 1.0), (base + 1620, 1.0), (base + 1640, 0.0)]
    curve = ramp(points, 2, 20)
    events = [*bend_range(0, 2), *curve, *note(base, base + 1620, 29)]
    assert ("slide-off-scale" in [f.rule for f in findings(events, RINGS)]) == flagged


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
