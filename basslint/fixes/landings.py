"""To which note is a slide led that lands on the wrong one?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, repitch
from basslint.fixes.bends import rescale
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.hear.chart import Chart
from basslint.theory.general_midi import HIGHEST_KEY

_SURE = 0.9  # certainty of the key from which a landing is mended unasked: nine in ten are right
_SURE_CHORD = 0.8  # certainty of the chord from which a long landing must be one of its tones
_STANDS = 0.3  # quarters: shorter notes pass
_OCTAVE = 12


@fixer(
    "landing-to-scale",
    of="slide",
    does="moves the landing to the nearest note of the scale, or an octave where that is nearest",
)
def landing_to_scale(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a landing to the nearest note of the scale, a tone of the chord first.

    A bend keeps its shape at its new height. Safe where the key is sure, one note is clearly the
    nearest, a bend's range is known, and no other part sounds the landing.
    """
    slides = chart.slides
    key = int(chart.key_at(slides.land[row : row + 1])[0])
    if key < 0 or round(chart.tuning.shift) % _OCTAVE:  # the line is heard in another key
        return None
    ranked = _landings(chart, row, key)
    for cost, pitch in ranked:
        edits = _relanded(chart, row, pitch)
        if edits:
            ties = sum(c == cost for c, _ in ranked)
            nearest = cost[1] == min(c[1] for c, _ in ranked)
            sure = float(chart.keys.certainty[key]) >= _SURE and nearest and ties == 1
            back = int(slides.start[row]) != int(chart.song.notes.start[slides.note[row]])
            held = back and slides.how[row] != "bend"
            sure = sure and bool(slides.range_stated[row]) and not _sounded(chart, row)
            kind: FixKind = "safe" if sure and not held else "by-ear"
            name = chart.note_name(pitch, int(slides.land[row]))
            return Fix(f"Land on {name}", kind, edits)
    return None


def _landings(chart: Chart, row: int, key: int) -> list[tuple[tuple[bool, float, bool], int]]:
    """Pitches a slide may land on, the best first, with what tells them apart.

    The nearest notes of the scale and octaves of where it comes from, chord tones before others. A
    landing that is a long note of its own under a chord that is sure must be a tone of it.
    """
    slides, notes = chart.slides, chart.song.notes
    origin, target = float(slides.origin[row]), float(slides.target[row])
    land, note = int(slides.land[row]), int(slides.note[row])
    chord = int(chart.root_at(np.array([land]))[0])
    stands = int(notes.end[note]) - int(slides.start[row]) > _STANDS * chart.song.division
    strict = chord >= 0 and float(chart.roots.certainty[chord]) >= _SURE_CHORD and stands
    strict &= slides.how[row] != "bend"
    found = []
    for pitch in range(max(round(target) - 6, 0), min(round(target) + 6, HIGHEST_KEY) + 1):
        octave = (pitch - round(origin)) % _OCTAVE == 0
        if pitch != round(origin) and (octave or chart.keys.scale[key][pitch % _OCTAVE]):
            tone = octave or _in_chord(chart, chord, pitch)
            found.append(((strict and not tone, abs(pitch - target), not tone), pitch))
    return sorted(found, key=lambda f: (f[0], abs(f[1] - origin)))


def _in_chord(chart: Chart, chord: int, pitch: int) -> bool:
    if chord < 0 or chart.roots.root[chord] < 0:
        return False
    above = (pitch - int(chart.roots.root[chord])) % _OCTAVE
    return bool(chart.roots.tones[chord, above])


def _sounded(chart: Chart, row: int) -> bool:
    """Whether another part sounds the note that a slide between notes lands on."""
    at = int(np.searchsorted(chart.bass_rows, int(chart.slides.note[row])))
    return chart.slides.how[row] != "bend" and bool(chart.doubling.sounded[at])


def _relanded(chart: Chart, row: int, pitch: int) -> tuple[Edit, ...] | None:
    slides, notes = chart.slides, chart.song.notes
    if slides.how[row] == "bend":
        return rescale(chart, row, float(pitch))
    note = int(slides.note[row])
    if abs(float(slides.target[row]) - int(notes.pitch[note])) > 0.25:
        return None  # an open wheel is what is off, not the note
    same = (notes.part == notes.part[note]) & (notes.pitch == pitch)
    meets = (notes.start < notes.end[note]) & (notes.end > notes.start[note])
    if (same & meets).any():
        return None  # two notes of one pitch at a time: one note-off would end both
    return (repitch(chart, note, pitch),)


@fixer("bend-to-note", of="slide", does="scales a bend so that it lands on the nearest note")
def bend_to_note(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Scale a bend to land on the nearest note, one of the scale within a semitone first.

    By ear: the range of the instrument may be what is wrong, not the bend.
    """
    slides = chart.slides
    target, origin = float(slides.target[row]), float(slides.origin[row])
    key = int(chart.key_at(slides.land[row : row + 1])[0])
    near = sorted((round(target) - 1, round(target), round(target) + 1),
                  key=lambda p: abs(p - target))  # fmt: skip
    near = [p for p in near if abs(p - target) < 1.0 and abs(p - origin) >= 0.5]
    fits = [p for p in near if key >= 0 and chart.keys.scale[key][p % _OCTAVE]]
    for pitch in [*fits, *near]:
        edits = rescale(chart, row, float(pitch)) if slides.how[row] == "bend" else None
        if edits:
            name = chart.note_name(pitch, int(slides.land[row]))
            return Fix(f"Scale the bend to land on {name}", "by-ear", edits)
    return None
