"""What is said of slides, and how they are mended: alike in every way that MIDI writes them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from beats import judged, report
from slide_beat import (
    BAR,
    BOOK,
    FACTS,
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
    control,
    midi_of,
    note,
    ramp,
    songs_of,
    to_wheel,
    wheel,
)

from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.rulebook.notation import compile_beat

GLIDE = 112


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


SLIDES = [(t, at, length) for t in (24, 28, 30, 31, 34, 35, 36, 40, 41, 42)
          for at, length in ((240, 1400), (960, 700), (240, 60))]  # fmt: skip


@pytest.mark.parametrize(("target", "at", "length"), SLIDES)
def test_three_ways_one_verdict(target: int, at: int, length: int) -> None:
    said = {
        way: [(f.rule, f.level, f.where.tick, f.message) for f in findings(events)]
        for way, events in ways(target, at, length).items()
    }
    if target < 29 and length < 100:  # a bend that is let go of on its way down is a fall
        assert [(rule, level) for rule, level, *_ in said["bend"]] == [
            ("slide-never-lands", "note")
        ]
    else:
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


def test_between_notes_is_scaled_to_the_nearest_of_the_scale() -> None:
    base = SPECIAL * BAR
    curve = ramp([(base + 240, 0.0), (base + 480, 6.6), (base + 1700, 6.6), (base + 1710, 0)],
                 12, 30)  # fmt: skip
    events = [*bend_range(0, 12), *curve, *note(base, base + 1680, 29)]
    assert [f.rule for f in findings(events, RINGS)] == ["slide-between-notes"]
    slides, left, _ = mended(events, RINGS)
    assert left == []
    assert slides.target[0] == pytest.approx(36, abs=0.02)


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


@pytest.mark.parametrize(("land", "flagged"), [(500, True), (1580, False)])
def test_a_bend_at_a_note_s_very_end_lands_nowhere(land: int, flagged: bool) -> None:
    base = SPECIAL * BAR
    points = [(base + land - 200, 0.0), (base + land, 1.0), (base + 1620, 1.0), (base + 1640, 0.0)]
    curve = ramp(points, 2, 20)
    events = [*bend_range(0, 2), *curve, *note(base, base + 1620, 29)]
    assert ("slide-off-scale" in [f.rule for f in findings(events, RINGS)]) == flagged
