"""Every way in which a file can hold a slide, and what must not be taken for one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from slide_songs import bend_range, bent, control, note, song_of, wheel
from slides_told import GLIDE, slides_of, told

from basslint.hear.slides.slides import needed_ring_s
from basslint.hear.slides.voice import is_mono

# --- overlaps ------------------------------------------------------------------------------------


def test_an_overlap_glides_to_the_later_note() -> None:
    slides = slides_of(song_of(note(0, 960, 33), note(720, 1440, 36)))
    assert told(slides) == [("overlap", 720, 720 + GLIDE, 33, 36)]
    assert slides.onset[0] == 0
    assert (slides.source_note[0], slides.note[0], slides.overlap[0]) == (0, 1, 240)
    assert slides.shape == ("glide",)


def test_a_voice_glides_back_to_the_note_still_held() -> None:
    slides = slides_of(song_of(note(0, 1920, 33), note(480, 960, 36)))
    assert told(slides) == [
        ("overlap", 480, 480 + GLIDE, 33, 36),
        ("overlap", 960, 960 + GLIDE, 36, 33),
    ]
    assert slides.onset.tolist() == [0, 0]  # one stroke, one envelope
    assert slides.until.tolist() == [960, 1920]


def test_a_chain_rings_from_its_first_stroke() -> None:
    slides = slides_of(
        song_of(note(0, 500, 33), note(480, 980, 36), note(960, 1460, 38), note(1440, 1900, 40))
    )
    assert told(slides)[-1] == ("overlap", 1440, 1440 + GLIDE, 38, 40)
    assert slides.onset.tolist() == [0, 0, 0]


def test_a_glide_cut_short_starts_the_next_from_where_it_got_to() -> None:
    song = song_of(note(0, 960, 33), note(480, 960, 45), note(480 + GLIDE // 2, 1200, 35))
    slides = slides_of(song)
    assert slides.origin[1] == pytest.approx(39.0, abs=0.01)  # half of an octave up
    assert slides.lands.tolist() == [False, True]


@pytest.mark.parametrize(
    ("case", "notes"),
    [
        ("touching notes", [note(0, 480, 33), note(480, 960, 36)]),
        ("a gap", [note(0, 470, 33), note(480, 960, 36)]),
        ("the same pitch again", [note(0, 500, 33), note(480, 960, 33)]),
        ("two notes struck together", [note(0, 960, 33), note(0, 480, 45)]),
        ("one note", [note(0, 960, 33)]),
        ("no note", []),
    ],
)
def test_no_slide_where(case: str, notes: list[object]) -> None:
    filler = note(4800, 5280, 40, channel=2)
    song = song_of(*notes, filler)  # type: ignore[arg-type]
    parts = (0,) if notes else ()
    assert told(slides_of(song, parts=parts)) == [], case


def test_chords_are_not_slides() -> None:
    chords = [note(t, t + 500, p) for t in range(0, 9600, 480) for p in (33, 40)]
    assert len(slides_of(song_of(*chords))) == 0


def test_mono_needs_mostly_one_note_at_a_time() -> None:
    start = np.arange(0, 4800, 480)
    line = (start, start + 600, np.full(10, 33, dtype=np.int16) + np.arange(10, dtype=np.int16))
    assert is_mono(*line, 480)
    assert not is_mono(start, start + 1600, line[2], 480)  # three notes deep all the time


def test_ragged_legato_everywhere_is_no_slide() -> None:
    pitches = (33, 36, 38, 40, 33, 36, 38, 40, 33, 36, 38, 40)
    hairs = [note(i * 480, i * 480 + 488, p) for i, p in enumerate(pitches)]
    assert len(slides_of(song_of(*hairs))) == 0
    # one real overlap in the same line still glides, and is struck at its own note
    meant = song_of(*hairs, note(12 * 480, 12 * 480 + 480, 33), note(12 * 480 + 240, 14 * 480, 45))
    slides = slides_of(meant)
    assert told(slides) == [("overlap", 12 * 480 + 240, 12 * 480 + 240 + GLIDE, 33, 45)]
    assert slides.onset.tolist() == [12 * 480]


def test_a_few_hairs_are_slides_since_the_voice_will_glide() -> None:
    song = song_of(note(0, 484, 33), note(480, 960, 36), note(960, 1440, 33))
    assert told(slides_of(song)) == [("overlap", 480, 480 + GLIDE, 33, 36)]


def test_glide_time_is_stated_in_seconds_and_follows_the_tempo() -> None:
    song = song_of(note(0, 960, 33), note(480, 1440, 36), tempo=250_000)
    assert slides_of(song, glide=0.05).land.tolist() == [480 + 96]


# --- the wheel -----------------------------------------------------------------------------------


def test_a_ramp_slides_from_its_first_move_to_its_last() -> None:
    song = song_of(*bent((0, 0), (480, 0), (720, 5)), note(0, 1440, 33))
    slides = slides_of(song)
    assert told(slides) == [("bend", 480, 720, 33, 38)]
    assert slides.shape == ("ramp",)
    assert slides.range_stated.tolist() == [True]
    assert slides.bend_range.tolist() == [12]
    assert song.changes.tick[slides.first_change[0]] == 495  # the first event that moves
    assert song.changes.tick[slides.last_change[0]] == 720


def test_a_hold_between_two_ramps_makes_two_slides() -> None:
    song = song_of(*bent((0, 0), (240, 0), (360, 5), (720, 5), (960, 7)), note(0, 1440, 33))
    slides = slides_of(song)
    assert told(slides) == [("bend", 240, 360, 33, 38), ("bend", 720, 960, 38, 40)]


def test_a_return_without_rest_is_one_slide_back_to_its_note() -> None:
    song = song_of(*bent((0, 0), (240, 0), (480, -12), (720, 0)), note(0, 1440, 45))
    slides = slides_of(song)
    assert told(slides) == [("bend", 240, 720, 45, 45)]
    assert slides.shape == ("return",)


def test_vibrato_is_no_slide_and_does_not_delay_a_landing() -> None:
    wobble = [(720 + 30 * i, 5 + (0.4 if i % 2 else -0.4)) for i in range(1, 20)]
    song = song_of(*bent((0, 0), (480, 0), (720, 5), *wobble, (1320, 5), every=5),
                   note(0, 1440, 33))  # fmt: skip
    slides = slides_of(song)
    assert len(slides) == 1
    assert slides.start[0] == 480
    assert abs(int(slides.land[0]) - 720) <= 30
    assert slides.target[0] == pytest.approx(38.0, abs=0.02)
    only = [(30 * i, 0.5 if i % 2 else -0.5) for i in range(40)]
    assert len(slides_of(song_of(*bent(*only, every=5), note(0, 1440, 33)))) == 0


def test_a_jump_of_the_wheel_lands_where_it_starts() -> None:
    song = song_of(bend_range(0, 12), wheel(480, 8192 * 7 // 12), note(0, 1440, 33))
    slides = slides_of(song)
    assert told(slides) == [("bend", 480, 480, 33, 40)]
    assert slides.shape == ("jump",)


def test_a_curve_is_told_from_a_straight_ramp() -> None:
    arc = [(480 + t, 12 * math.sin(t / 240 * math.pi / 2) ** 3) for t in range(0, 241, 10)]
    slides = slides_of(song_of(*bent((0, 0), *arc, every=500), note(0, 1440, 33)))
    assert slides.shape == ("curve",)
    assert told(slides)[0][2:] == (720, 33, 45)


def test_a_bend_that_begins_before_its_note_is_heard_from_the_note_on() -> None:
    song = song_of(*bent((240, 0), (720, 12), every=10), note(480, 1440, 33))
    (slide,) = told(slides_of(song))
    assert slide == ("bend", 480, 720, 39, 45)


def test_a_bend_that_runs_on_after_its_note_never_lands() -> None:
    song = song_of(*bent((240, 0), (720, 12), every=10), note(0, 600, 33))
    slides = slides_of(song)
    assert told(slides) == [("bend", 240, 720, 33, 45)]
    assert slides.lands.tolist() == [False]
    assert slides_of(song, one_shot=True).lands.tolist() == [True]  # the sound rings on


def test_set_up_and_reset_of_the_wheel_are_no_slides() -> None:
    song = song_of(
        bend_range(0, 12),
        wheel(2, -3000),  # set just after the note-on: where the note begins
        note(0, 480, 33),
        wheel(478, 0),  # set back just before the note ends
        wheel(500, 4000),  # moved in silence
        note(960, 1440, 33),
        wheel(1440, 0),
    )
    assert len(slides_of(song)) == 0


def test_a_ramp_that_lands_as_the_next_note_resets_the_wheel() -> None:
    song = song_of(*bent((480, 0), (960, 5)), wheel(960, 0), note(0, 960, 33), note(960, 1440, 35))
    assert told(slides_of(song)) == [("bend", 480, 960, 33, 38)]


def test_a_wheel_that_only_ever_centres_is_no_slide() -> None:
    assert len(slides_of(song_of(wheel(0, 0), note(0, 960, 33), wheel(960, 0)))) == 0


# --- portamento ----------------------------------------------------------------------------------


def test_portamento_glides_from_the_note_before_across_a_gap() -> None:
    song = song_of(control(400, 65, 127), note(0, 240, 33), note(480, 960, 36))
    slides = slides_of(song)
    assert told(slides) == [("portamento", 480, 480 + GLIDE, 33, 36)]
    assert slides.onset[0] == 480  # struck again
    assert slides.overlap[0] == 0


def test_portamento_over_an_overlap_is_one_slide_and_one_stroke() -> None:
    song = song_of(control(0, 65, 127), note(0, 720, 33), note(480, 960, 36))
    slides = slides_of(song)
    assert told(slides) == [("portamento", 480, 480 + GLIDE, 33, 36)]
    assert slides.onset[0] == 0


def test_portamento_switched_off_means_no_glide() -> None:
    song = song_of(
        control(0, 65, 127), note(0, 480, 33), note(480, 960, 36),
        control(960, 65, 0), note(960, 1500, 33), note(1440, 1920, 36),
    )  # fmt: skip
    assert [s[1] for s in told(slides_of(song))] == [480]
    never = song_of(control(0, 65, 0), note(0, 720, 33), note(480, 960, 36))
    assert [s[0] for s in told(slides_of(never))] == ["overlap"]  # an idle reset says nothing


def test_controller_84_names_the_source_of_one_note() -> None:
    song = song_of(
        note(0, 240, 33), note(480, 720, 36), control(960, 84, 33), note(960, 1440, 40),
        note(1440, 1920, 33),
    )  # fmt: skip
    slides = slides_of(song)
    assert told(slides) == [("portamento", 960, 960 + GLIDE, 33, 40)]
    assert slides.source_note[0] == 0
    held = song_of(note(0, 720, 33), control(480, 84, 33), note(480, 960, 36))
    assert slides_of(held).onset.tolist() == [0]  # a sounding source is taken over, not struck


# --- level and landing ---------------------------------------------------------------------------


def test_level_at_landing_is_the_decay_since_the_stroke() -> None:
    # ISO 3382: −60·t/T60 dB; here t = 0.75 s + 0.1 s
    slides = slides_of(song_of(note(0, 960, 33), note(720, 1440, 36)), decay=0.6)
    assert slides.level_db[0] == pytest.approx(-60 * 0.85 / 0.6, abs=0.1)
    assert math.isnan(slides_of(song_of(note(0, 960, 33), note(720, 1440, 36))).level_db[0])


def test_a_slide_that_never_lands_has_no_level() -> None:
    song = song_of(note(0, 960, 33), note(720, 720 + GLIDE - 5, 36))
    gated = slides_of(song, decay=0.6)
    assert not gated.lands[0]
    assert math.isnan(gated.level_db[0])
    assert slides_of(song, decay=0.6, one_shot=True).lands[0]


def test_a_landing_is_heard_for_ten_milliseconds_at_least() -> None:
    for rest, heard in ((0, False), (5, False), (12, True)):
        song = song_of(note(0, 760, 33), note(720, 720 + GLIDE + rest, 36))
        assert slides_of(song).lands.tolist() == [heard]


def test_without_a_decay_the_ring_that_the_latest_slide_needs() -> None:
    song = song_of(note(0, 480, 33), note(240, 480, 36), note(960, 1920, 33), note(1680, 2400, 36))
    slides = slides_of(song)
    found = needed_ring_s(slides, song, -24.0)
    assert found is not None
    seconds, row = found
    assert row == 1
    assert seconds == pytest.approx((0.75 + 0.1) * 60 / 24, abs=0.01)
    heard = slides_of(song, decay=seconds)
    assert heard.level_db[row] == pytest.approx(-24.0)
    assert needed_ring_s(slides_of(song_of(note(0, 480, 33))), song, -24.0) is None
    with pytest.raises(ValueError, match="below 0"):
        needed_ring_s(slides, song, 0.0)


@pytest.mark.parametrize(("ahead", "begins"), [(30, 450), (31, 480)])
def test_a_ramp_begins_at_the_event_before_it_where_that_is_near(ahead: int, begins: int) -> None:
    """Events come every 20 ticks from 480 on; one that stands at zero up to half as far again
    before the first is the ramp's own first point, one farther off is not (common practice, no
    source)."""
    events = [wheel(480 + 20 * k, 1000 * (k + 1)) for k in range(6)]
    song = song_of(note(0, 1920, 33), bend_range(0, 12), wheel(480 - ahead, 0), events)
    assert slides_of(song).start.tolist() == [begins]
