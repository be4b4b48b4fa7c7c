"""What was heard in a song? Each question is asked once, when first needed.

The chart is what readings and reports ask; it asks the rooms of ``hear/``. It holds
no opinion.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony_chart import HarmonyChart
from basslint.hear.memo import asked_once
from basslint.song.arrangement import Notes
from basslint.theory.general_midi import BASSES
from basslint.util.records import replace

if TYPE_CHECKING:
    from basslint.hear.bassline.accompaniment import Accompaniment
    from basslint.hear.bassline.displacement import Displacements
    from basslint.hear.bassline.doubling import Doubling
    from basslint.hear.bassline.lag import Lags
    from basslint.hear.bassline.pattern import Pattern
    from basslint.hear.bassline.register import HighParts
    from basslint.hear.bassline.shift import ShiftedStretches
    from basslint.hear.bassline.sounding import Sounding
    from basslint.hear.bassline.tuning import Tuning
    from basslint.hear.bassline.two_keys import TwoKeys
    from basslint.hear.bassline.which_is_off import WhichIsOff
    from basslint.hear.fills.fills import Fills
    from basslint.hear.form.hypermeter import FourBars
    from basslint.hear.form.phrases import Phrases
    from basslint.hear.slides.slides import Slides
    from basslint.hear.slides.unstated_range import Unstated


class Chart(HarmonyChart):
    """All that is heard in ``song``, its bass line among it; see `HarmonyChart` for the rest."""

    @asked_once
    def tuning(self) -> Tuning:
        """How the sampler of the bass is tuned to its one-shot."""
        from basslint.hear.bassline.tuning import UNTOLD, hear_tuning

        if self.facts.sound_pitch is None:
            return UNTOLD
        from basslint.hear.bassline.line_fit import fit_of_line
        from basslint.hear.harmony.cover import chord_rows

        bass, division = self._written_bass, self.song.division
        root = self._root_under(chord_rows(bass, self.roots, division))
        return hear_tuning(
            self.facts, bass.pitch, fit_of_line(bass, self._around(bass), root, division)
        )

    @asked_once
    def sounding(self) -> Sounding:
        """The pitch of each bass note as written and as heard, [m]."""
        from basslint.hear.bassline.sounding import hear_sounding

        facts, bass = self.facts, self._written_bass
        return hear_sounding(self.song, bass, facts.bend_range, facts.one_shot, self.tuning.shift)

    @asked_once
    def _written_bass(self) -> Notes:
        return self.written.take(self.bass_rows)

    @asked_once
    def notes(self) -> Notes:
        """All notes of the song as in ``written``, bass notes at the pitch that sounds."""
        pitch = self.written.pitch.copy()
        pitch[self.bass_rows] = self.sounding.nearest
        return replace(self.written, pitch=pitch)

    @asked_once
    def bass(self) -> Notes:
        """The notes of the bass parts, [m], in order of time, at the pitch that sounds."""
        return replace(self._written_bass, pitch=self.sounding.nearest)

    @asked_once
    def doubling(self) -> Doubling:
        """What other parts sound with each bass note, and which of them doubles its line."""
        from basslint.hear.bassline.doubling import hear_doubling

        drums = self.parts.drums
        pitched = [i for i in range(len(self.song.parts)) if i not in drums]
        group = np.asarray(self.parts.group, dtype=np.int64)
        return hear_doubling(self.notes, self.bass, pitched, group, self.song.division)

    @asked_once
    def accompaniment(self) -> Accompaniment:
        """What the other pitched parts, basses and drums left out, sound during each bass note."""
        return self._around(self.bass)

    def _around(self, bass: Notes) -> Accompaniment:
        from basslint.hear.bassline.accompaniment import hear_accompaniment, over_loops
        from basslint.hear.harmony.bare import usual_tones

        chords, usual = self.outside_roots, None
        if np.count_nonzero(chords.bare):
            usual = usual_tones(chords.root, self.scale_fit_at(chords.start))
        around = hear_accompaniment(bass, self.others, chords, self.song.grid, usual)
        return around if self.loops is None else over_loops(around, bass, self.loops)

    def _root_under(self, row: NDArray[np.intp]) -> NDArray[np.int64]:
        """The chord root of rows of ``roots``, −1 where it is unknown."""
        return np.where(row >= 0, np.concatenate((self.roots.root, [-1]))[row], -1).astype(np.int64)

    @property
    def shifts(self) -> ShiftedStretches:
        """Stretches of the bass that lie whole semitones off the other parts."""
        return self._moved[0]

    @property
    def displacements(self) -> Displacements:
        """Bass parts that lie an eighth, a quarter or a bar off the rest as a whole."""
        return self._moved[1]

    @asked_once
    def _moved(self) -> tuple[ShiftedStretches, Displacements]:
        from basslint.hear.bassline.displacement import Surroundings, hear_displacements
        from basslint.hear.bassline.shift import hear_shifts

        root, grid = self._root_under(self.bass_chords), self.song.grid
        shifts = hear_shifts(self.bass, self.accompaniment, root, grid)
        around = Surroundings(self.others, self.drums, self.roots, grid)
        support = self.accompaniment.at(0, self.bass.pitch)
        displaced = hear_displacements(self.bass, support, around)
        if not len(displaced.part):
            return shifts, displaced
        from basslint.hear.bassline.one_move import one_move

        return one_move(shifts, displaced, self.lags)

    @asked_once
    def others(self) -> Notes:
        """The notes of the pitched parts that are no basses, in order of time."""
        left_out = (*self.parts.drums, *self.parts.bass)
        rows = self.song.rows_of([i for i in range(len(self.song.parts)) if i not in left_out])
        return self.written.take(rows)

    @asked_once
    def drums(self) -> Notes:
        """The notes of the drum parts, in order of time."""
        return self.song.notes_of(*self.parts.drums)

    @asked_once
    def sides(self) -> tuple[WhichIsOff, ...]:
        """For each of ``shifts``: is it the bass that lies off, or what it is held against?"""
        from basslint.hear.bassline.which_is_off import hear_which_is_off

        bass, shifts, parts = self.bass, self.shifts, self.parts
        pitched = [i for i in range(len(self.song.parts)) if i not in parts.drums]
        sides = []
        for row in range(len(shifts.start)):
            start, end, own = shifts.start[row], shifts.end[row], parts.group[shifts.part[row]]
            doubles = self.doubling.part[bass.part == shifts.part[row]]
            others = [i for i in pitched if i not in parts.bass]
            others += [i for i in parts.bass if parts.group[i] != own and i not in doubles]
            inside = (bass.part == shifts.part[row]) & (bass.start >= start) & (bass.start < end)
            sides.append(
                hear_which_is_off(
                    bass.take(inside),
                    int(shifts.semitones[row]),
                    others,
                    lambda part: self.notes.take(self.song.rows_of([part])),
                    self.song.grid,
                    len(self.outside_roots) > 0,
                )
            )
        return tuple(sides)

    @asked_once
    def two_keys(self) -> TwoKeys:
        """Bass parts in another key than the other parts."""
        from basslint.hear.bassline.two_keys import hear_two_keys

        return hear_two_keys(self.bass, self.accompaniment, self.keys, self.song.division)

    @asked_once
    def high_parts(self) -> HighParts:
        """Bass parts that lie an octave too high as a whole."""
        from basslint.hear.bassline.register import has_own_register, hear_high_parts

        parts = self.song.parts
        by_program = [i for i, p in enumerate(parts) if p.program in BASSES]
        own = [i for i, p in enumerate(parts) if has_own_register(p.program, p.name)]
        return hear_high_parts(self.bass, self.others, own, by_program)

    @asked_once
    def lags(self) -> Lags:
        """Bass parts that lie a constant time behind or before the drums."""
        from basslint.hear.bassline.lag import hear_lags

        return hear_lags(self.bass, self.drums, self.others, self.song.tempo)

    @asked_once
    def pitched_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that belong to a part that is no drums, [m]."""
        drums = self.parts.drums
        return self.song.rows_of([i for i in range(len(self.song.parts)) if i not in drums])

    @asked_once
    def pitched(self) -> Notes:
        """The notes of all parts but the drums, [m], in order of time."""
        return self.song.notes.take(self.pitched_rows)

    @asked_once
    def bass_chords(self) -> NDArray[np.intp]:
        """Row of ``roots`` that each bass note belongs to, [m]; −1 where no harmony sounds."""
        from basslint.hear.harmony.cover import chord_rows

        return chord_rows(self.bass, self.roots, self.song.division)

    @asked_once
    def bass_roots(self) -> NDArray[np.intp]:
        """Row of ``roots`` at which the root that each bass note belongs to began, [m]; −1 where
        no harmony sounds. Where Am goes on as Am7, the chord has changed and its root has not."""
        row = self.bass_chords
        return np.where(row >= 0, np.concatenate((self.roots.began, [-1]))[row], -1)

    @asked_once
    def phrases(self) -> Phrases:
        """Where phrases begin and end."""
        from basslint.hear.form.phrases import hear_phrases

        return hear_phrases(self.song, self.parts)

    @asked_once
    def four_bars(self) -> FourBars:
        """Where each four bars begin and end."""
        from basslint.hear.form.hypermeter import hear_four_bars

        return hear_four_bars(self.phrases)

    @asked_once
    def pattern(self) -> Pattern:
        """Which bass pattern which bars hold."""
        from basslint.hear.bassline.pattern import hear_pattern

        return hear_pattern(self.song, self.bass, self.roots, self.bass_chords, self.phrases)

    @asked_once
    def functions(self) -> NDArray[np.int8]:
        """What each bass note does in its harmony, [m] indexes into `functions.FUNCTIONS`."""
        from basslint.hear.bassline.functions import note_functions

        chords = self.bass_chords
        return note_functions(
            self.song, self.bass, self.roots, chords, self.keys, lambda: self.pattern
        )

    @asked_once
    def slides(self) -> Slides:
        """Every slide of the bass parts."""
        from basslint.hear.slides.slides import hear_slides

        facts = self.facts
        slides = hear_slides(
            self.song,
            self.parts.bass,
            facts.glide_s,
            facts.bend_range,
            facts.decay_s,
            facts.one_shot,
            facts.tells_of_glides,
        )
        return slides.as_sampled(self.tuning.shift, facts.sound_pitch)

    @asked_once
    def unstated_range(self) -> Unstated:
        """The bass notes with which bends of an assumed range begin."""
        from basslint.hear.slides.unstated_range import hear_unstated

        return hear_unstated(self.song, self.bass, self.facts.bend_range)

    @asked_once
    def fills(self) -> Fills:
        """Rolls and fills of bass and drum parts."""
        from basslint.hear.fills.fills import hear_fills

        return hear_fills(self.song, self.parts)

    def with_parts_of(self, other: Chart) -> Chart:
        """This chart with the roles heard in ``other``, where only a few notes differ.

        Parts are matched by track and channel. It spares hearing them again, and keeps a mended
        copy from being heard with other roles than its original.
        """
        mine = [(p.track, p.channel) for p in self.song.parts]
        if mine == [(p.track, p.channel) for p in other.song.parts]:
            self.parts = other.parts
        return self
