"""Single faults to put into a clean beat, one kind for each rule that a single fault sets off.

Whole basses, keys, samplers and sources of harmony have scripts of their own: shifts.py, tuning.py,
stated.py, loop_beats.py.

Each takes a clean beat and dice, and gives the beat with one fault of that kind and the truth, or
None where the beat has no place for it. What a fault is follows from music; no rule code is
used.
"""

from __future__ import annotations

from bench import faults_of_form, faults_of_harmony, faults_of_rolls, faults_of_slides
from bench.fault_model import Inject

KINDS: dict[str, Inject] = {
    "off-root": faults_of_harmony.off_root,
    "outside-scale": faults_of_harmony.outside_scale,
    "rubs-with-harmony": faults_of_harmony.rubs_with_harmony,
    "inverted-root": faults_of_harmony.inverted_root,
    "late-change": faults_of_harmony.late_change,
    "slide-off-scale": faults_of_slides.slide_off_scale,
    "slide-after-decay": faults_of_slides.slide_after_decay,
    "slide-between-notes": faults_of_slides.slide_between_notes,
    "slide-never-lands": faults_of_slides.slide_never_lands,
    "bend-left-open": faults_of_slides.bend_left_open,
    "bend-range-assumed": faults_of_slides.bend_range_assumed,
    "accidental-slide": faults_of_slides.accidental_slide,
    "fill-off-phrase": faults_of_rolls.fill_off_phrase,
    "flat-roll": faults_of_rolls.flat_roll,
    "roll-blurs": faults_of_rolls.roll_blurs,
    "roll-misses-snare": faults_of_rolls.roll_misses_snare,
    "roll-off-grid": faults_of_rolls.roll_off_grid,
    "roll-slides-by-accident": faults_of_rolls.roll_slides_by_accident,
    "no-air-before-repeat": faults_of_form.no_air_before_repeat,
    "kick-flam": faults_of_form.kick_flam,
    "octave-slip": faults_of_form.octave_slip,
    "bass-misplaced": faults_of_form.bass_misplaced,
    "too-low": faults_of_form.too_low,
    "too-high": faults_of_form.too_high,
    "two-basses": faults_of_harmony.two_basses,
    "sound-off-pitch": faults_of_form.sound_off_pitch,
    "doubled-note": faults_of_form.doubled_note,
    "empty-note": faults_of_form.empty_note,
    "stuck-note": faults_of_form.stuck_note,
    "no-tempo": faults_of_form.no_tempo,
    "no-meter": faults_of_form.no_meter,
}
