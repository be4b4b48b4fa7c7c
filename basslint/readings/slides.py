"""Where does a slide lead, is it still heard there, and did anybody mean it?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.slides.glides import RAGGED_OVERLAP
from basslint.readings.base import Column, reading
from basslint.readings.harmony_shares import share_sounded
from basslint.readings.notes import bar_and_place, beats, milliseconds, part_names, words
from basslint.theory.names import key_name as named_key
from basslint.util.columns import distinct, median

_ISO_3382 = "ISO 3382: an exponential decay falls by 60 dB in T60"
_VELOCITY_DB = 40.0  # 40·log10(velocity ratio): the concave curve of DLS Level 1, from memory
_WHOLE = 12.0
_SOUNDED = 0.5  # share of its time that another part must sound a landing
_STEP = 2.25  # semitones: a whole tone, as a wheel hits it
_PLACES = 4  # places in a quarter: copies start on the same sixteenth
_PASSES = 1.0  # beats: what stands longer is a note of the line


def sounding_origin(chart: Chart) -> NDArray[np.float64]:
    """The pitch that each slide comes from as the sampler sounds it, whole semitones up, [n]."""
    return chart.slides.origin + round(chart.tuning.shift)


def sounding_target(chart: Chart) -> NDArray[np.float64]:
    """The pitch that each slide is bound for as the sampler sounds it, whole semitones up, [n]."""
    return chart.slides.target + round(chart.tuning.shift)


@reading("slide", unit="text")
def part_name(chart: Chart) -> Column:
    """The name of its part."""
    return part_names(chart, chart.slides.part)


@reading("slide", unit="text")
def how(chart: Chart) -> Column:
    """How it is written: overlap (of two notes), bend (of the wheel) or portamento."""
    return words(list(chart.slides.how))


@reading("slide", unit="text")
def shape(chart: Chart) -> Column:
    """Its shape: glide between notes; ramp, curve, jump, return, turn or wobble of the wheel."""
    return words(list(chart.slides.shape))


@reading("slide", unit="text", source="scientific pitch notation")
def from_name(chart: Chart) -> Column:
    """The note it starts from, the nearest one where it starts between two."""
    return _names(chart, sounding_origin(chart))


@reading("slide", unit="text", source="scientific pitch notation")
def landing_name(chart: Chart) -> Column:
    """The note it lands on, the nearest one where it lands between two."""
    return _names(chart, sounding_target(chart))


@reading("slide", unit="semitones")
def interval(chart: Chart) -> Column:
    """How far it moves; up is positive."""
    return np.round(sounding_target(chart) - sounding_origin(chart), 2)


@reading("slide", unit="cents")
def landing_cents(chart: Chart) -> Column:
    """How far it lands from the nearest note of equal temperament, either way."""
    return np.abs(_cents(chart))


@reading("slide", unit="text")
def landing_aside(chart: Chart) -> Column:
    """How far it lands from the nearest note, in words, such as 40 cents above."""
    side = ["above" if c > 0 else "below" for c in _cents(chart).tolist()]
    return words([f"{abs(c):.0f} cents {s}" for c, s in zip(_cents(chart), side, strict=True)])


@reading("slide", unit="yes or no", source="the key's scale, as charted")
def landing_in_scale(chart: Chart) -> Column:
    """Does it land on a note of the scale?"""
    row = chart.key_at(chart.slides.land)
    return _looked_up(row, chart.keys.scale, sounding_target(chart))


@reading("slide", unit="yes or no", source="harmony, common practice (chord spelling)")
def landing_in_chord(chart: Chart) -> Column:
    """Does it land on a tone of the chord, or on a pitch that another part sounds there?

    Another part is one of the harmony or a melody, and it sounds the pitch class, in whatever
    octave, for half of the time at least for which the slide stands there.
    """
    slides = chart.slides
    tone = np.rint(sounding_target(chart)).astype(np.int64) % 12
    stop = np.maximum(np.minimum(slides.until, chart.song.end_tick), slides.land + 1)
    sounded = share_sounded(chart, tone, slides.land, stop, ("harmony", "melody"))
    return np.asarray(_landing_in_known_chord(chart) | (sounded >= _SOUNDED))


@reading("slide", unit="yes or no", source="Open Music Theory: passing notes")
def landing_passes(chart: Chart) -> Column:
    """Does it step to its landing and, within a beat, on by step in the same direction?"""
    slides, notes = chart.slides, chart.song.notes
    column = np.zeros(len(slides), dtype=bool)
    for part in distinct(slides.part).tolist():
        rows = (notes.part == part).nonzero()[0]
        start = notes.start[rows]
        mine = (slides.part == part).nonzero()[0]
        struck = np.maximum(notes.start[slides.note[mine]], slides.start[mine])
        after = np.searchsorted(start, struck, side="right")
        known = after < len(rows)
        mine, struck, after = mine[known], struck[known], after[known]
        came = sounding_target(chart)[mine] - sounding_origin(chart)[mine]
        goes = notes.pitch[rows[after]] - slides.target[mine]
        steps = (np.abs(came) <= _STEP) & (np.abs(goes) <= _STEP) & (came * goes > 0)
        brief = beats(chart, struck, start[after]) <= _PASSES
        column[mine] = steps & brief
    return column


def _landing_in_known_chord(chart: Chart) -> NDArray[np.bool_]:
    roots, row = chart.roots, chart.root_at(chart.slides.land)
    column = np.zeros(len(row), dtype=bool)
    classes = np.rint(sounding_target(chart)).astype(int) % 12
    for i in (row >= 0).nonzero()[0].tolist():
        root = int(roots.root[row[i]])
        if root >= 0:
            column[i] = roots.tones[row[i], (int(classes[i]) - root) % 12]
    return column


@reading("slide", unit="yes or no")
def lands_on_octave(chart: Chart) -> Column:
    """Does it move by whole octaves, to the nearest semitone?"""
    moved = np.rint(np.abs(sounding_target(chart) - sounding_origin(chart)))
    return np.asarray((moved >= _WHOLE) & (moved % _WHOLE == 0))


@reading("slide", unit="text")
def key_name(chart: Chart) -> Column:
    """The key in force where it lands."""
    keys = chart.keys
    return words(
        [
            named_key(int(keys.tonic[r]), keys.mode[r]) if r >= 0 else None
            for r in chart.key_at(chart.slides.land).tolist()
        ]
    )


@reading("slide", unit="yes or no")
def lands(chart: Chart) -> Column:
    """Does its note sound on after it has landed, for 10 ms at least?"""
    return chart.slides.lands


@reading("slide", unit="ms")
def too_short_ms(chart: Chart) -> Column:
    """By how much its note ends before it lands; 0 where it lands."""
    slides = chart.slides
    until = np.minimum(slides.until, slides.land)
    return milliseconds(chart, until, slides.land).round()


@reading("slide", unit="figure")
def figure(chart: Chart) -> Column:
    """A number that copies of a slide share: same part, notes, key and place in the bar."""
    slides = chart.slides
    _, place = bar_and_place(chart, slides.start, _PLACES)
    notes = np.rint((sounding_origin(chart), sounding_target(chart))).astype(np.int64)
    from basslint.readings.recurrence import numbered

    return numbered(slides.part, *notes, place, chart.key_at(slides.land))


@reading("slide", unit="text")
def in_copies(chart: Chart) -> Column:
    """How often it comes, such as “ 4 times alike”; nothing where it comes once."""
    from basslint.readings.recurrence import times_alike

    return times_alike(figure(chart))


@reading("slide", unit="ms")
def glide_ms(chart: Chart) -> Column:
    """How long it takes: the stated glide time for notes, the file's own time for bends."""
    return milliseconds(chart, chart.slides.start, chart.slides.land)


@reading("slide", unit="ms")
def after_stroke_ms(chart: Chart) -> Column:
    """How long the sound has rung when it lands, from the hit that set its voice sounding."""
    return np.round(milliseconds(chart, chart.slides.onset, chart.slides.land), 0)


@reading("slide", unit="dB", source=_ISO_3382)
def level_db(chart: Chart) -> Column:
    """How far the sound has fallen since its hit when it lands."""
    return np.round(chart.slides.level_db, 1)


@reading("slide", unit="dB", source=f"{_ISO_3382}; velocity by the curve of DLS Level 1")
def landing_level_db(chart: Chart) -> Column:
    """How loud it lands beside the middle one of its part's hits: decay and velocity together.

    40·log10 of the velocity of the hit over the part's median velocity is added to the decay.
    """
    return np.round(chart.slides.level_db + stroke_db(chart), 1)


@reading("slide", unit="ms")
def decay_ms(chart: Chart) -> Column:
    """The decay that was stated or measured: time to fall by 60 dB."""
    known = chart.facts.decay_s
    return np.full(len(chart.slides), np.nan if known is None else 1000.0 * known)


@reading("slide", unit="ms")
def overlap_ms(chart: Chart) -> Column:
    """How long its two notes sound together; cannot be told where there are not two that meet."""
    slides = chart.slides
    met = milliseconds(chart, slides.start, slides.start + slides.overlap)
    return np.where(slides.overlap > 0, met.round(1), np.nan)


@reading("slide", unit="share of the glide time")
def overlap_share(chart: Chart) -> Column:
    """How long its two notes sound together, as a share of the glide time."""
    if chart.facts.glide_s <= 0:
        return np.full(len(chart.slides), np.nan)
    return np.asarray(overlap_ms(chart) / (1000.0 * chart.facts.glide_s))


@reading("slide", unit="yes or no")
def glides_elsewhere(chart: Chart) -> Column:
    """Does its part slide elsewhere in a way that nobody does by accident?

    By controllers, by the wheel, or by overlaps of more than a fifth of the glide time that are no
    fewer than its shorter ones: where hairs are more, ragged ends are how the part was played.
    """
    slides, parts = chart.slides, len(chart.song.parts)
    share = np.nan_to_num(overlap_share(chart))
    overlaps = np.array([h == "overlap" for h in slides.how], dtype=bool)
    clear = overlaps & (share > RAGGED_OVERLAP)
    hairs = np.bincount(slides.part[overlaps & ~clear], minlength=parts)
    drawn = np.bincount(slides.part[clear], minlength=parts)
    meant = ~overlaps | clear & (drawn >= hairs)[slides.part]
    count = np.bincount(slides.part[meant], minlength=parts)
    return np.asarray(count[slides.part] > meant)


def stroke_db(chart: Chart) -> NDArray[np.float64]:
    """Level of the hit that each slide rings from beside its part's median hit, [n] dB."""
    slides, notes = chart.slides, chart.song.notes
    column = np.zeros(len(slides))
    for part in distinct(slides.part).tolist():
        rows = (notes.part == part).nonzero()[0]
        usual = float(median(notes.velocity[rows]))
        mine = (slides.part == part).nonzero()[0]
        struck = rows[np.searchsorted(notes.start[rows], slides.onset[mine])]
        column[mine] = _VELOCITY_DB * np.log10(notes.velocity[struck] / usual)
    return column


def _cents(chart: Chart) -> NDArray[np.float64]:
    target = sounding_target(chart)
    return np.asarray((100.0 * (target - np.rint(target))).round(1))


def _names(chart: Chart, pitch: NDArray[np.float64]) -> Column:
    ticks = chart.slides.land.tolist()
    numbers = np.rint(pitch).astype(int).tolist()
    return words([chart.note_name(p, t) for p, t in zip(numbers, ticks, strict=True)])


def _looked_up(
    row: NDArray[np.intp], table: NDArray[np.bool_], pitch: NDArray[np.float64]
) -> Column:
    """Whether a pitch is in the set of its row, as an object column; None where there is no row."""
    column = np.full(len(row), None, dtype=object)
    known = (row >= 0).nonzero()[0]
    classes = np.rint(pitch[known]).astype(int) % 12
    column[known] = table[row[known], classes].tolist() if len(known) else []
    return column
