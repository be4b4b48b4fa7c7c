"""What was heard in a song? Each question is asked once, when first needed.

The chart is what readings and reports ask; it asks the rooms of ``hear/``. It holds
no opinion.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.facts import Facts
from basslint.song.arrangement import Notes, Song
from basslint.theory.names import SHARPS, spelling
from basslint.util.columns import row_at

if TYPE_CHECKING:
    from collections.abc import Callable

    from basslint.hear.bassline.accompaniment import Accompaniment
    from basslint.hear.bassline.doubling import Doubling
    from basslint.hear.bassline.lag import Lags
    from basslint.hear.bassline.pattern import Pattern
    from basslint.hear.bassline.shift import ShiftedStretches
    from basslint.hear.bassline.sounding import Sounding
    from basslint.hear.bassline.tuning import Tuning
    from basslint.hear.fills.fills import Fills
    from basslint.hear.form.phrases import Phrases
    from basslint.hear.harmony.loops import Loops
    from basslint.hear.harmony.sources import Roots, Source
    from basslint.hear.harmony.witnesses import Witnesses
    from basslint.hear.key.keys import Keys
    from basslint.hear.parts.parts import Parts
    from basslint.hear.slides.slides import Slides
    from basslint.hear.slides.unstated_range import Unstated


class Chart:
    """All that is heard in ``song``, given what the user stated in ``facts``.

    ``answers`` keeps what later stages have asked of it, by the function that answers.
    """

    def __init__(
        self, song: Song, facts: Facts, path: str = "", loops: Loops | None = None
    ) -> None:
        self.song = song
        self.facts = facts
        self.path = path
        self.loops = loops
        self.answers: dict[Callable[[Chart], object], object] = {}
        self._twin: Chart | None = None

    @cached_property
    def parts(self) -> Parts:
        """Which part plays which role."""
        from basslint.hear.parts.parts import hear_parts
        from basslint.hear.parts.stated import parts_named

        bass = parts_named(self.song, self.facts.bass, "--bass", self.path)
        harmony = parts_named(self.song, self.facts.harmony, "--harmony", self.path)
        return hear_parts(self.song, bass, harmony)

    @cached_property
    def bass_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that belong to a bass part, [m]."""
        return self.song.rows_of(self.parts.bass)

    @cached_property
    def written(self) -> Notes:
        """All notes of the song, those that the file never ends as they must have been meant."""
        from basslint.hear.stuck_notes import end_stuck_notes

        return end_stuck_notes(self.song.notes, self.song.division)

    @cached_property
    def tuning(self) -> Tuning:
        """How the sampler of the bass is tuned to its one-shot."""
        from basslint.hear.bassline.tuning import UNTOLD, hear_tuning
        from basslint.hear.harmony.cover import chord_rows

        if self.facts.sound_pitch is None:
            return UNTOLD
        bass = self.written.take(self.bass_rows)
        return hear_tuning(
            self.facts, bass, self.roots, chord_rows(bass, self.roots, self.song.division)
        )

    @cached_property
    def sounding(self) -> Sounding:
        """The pitch of each bass note as written and as heard, [m]."""
        from basslint.hear.bassline.sounding import hear_sounding

        facts = self.facts
        bass = self.written.take(self.bass_rows)
        return hear_sounding(self.song, bass, facts.bend_range, facts.one_shot, self.tuning.shift)

    @cached_property
    def notes(self) -> Notes:
        """All notes of the song as in ``written``, those of the bass at the pitch that sounds."""
        pitch = self.written.pitch.copy()
        pitch[self.bass_rows] = self.sounding.nearest
        return replace(self.written, pitch=pitch)

    @cached_property
    def bass(self) -> Notes:
        """The notes of the bass parts, [m], in order of time, at the pitch that sounds."""
        return self.notes.take(self.bass_rows)

    @cached_property
    def doubling(self) -> Doubling:
        """What other parts sound with each bass note, and which of them doubles its line."""
        from basslint.hear.bassline.doubling import hear_doubling

        drums = self.parts.drums
        pitched = [i for i in range(len(self.song.parts)) if i not in drums]
        group = np.asarray(self.parts.group, dtype=np.int64)
        return hear_doubling(self.notes, self.bass, pitched, group, self.song.division)

    @cached_property
    def accompaniment(self) -> Accompaniment:
        """What the other pitched parts, basses and drums left out, sound during each bass note."""
        from basslint.hear.bassline.accompaniment import hear_accompaniment, over_loops

        left_out = (*self.parts.drums, *self.parts.bass)
        rows = self.song.rows_of([i for i in range(len(self.song.parts)) if i not in left_out])
        others = self.notes.take(rows)
        around = hear_accompaniment(self.bass, others, self.told_roots, self.song.grid)
        return around if self.loops is None else over_loops(around, self.bass, self.loops.sounds)

    @cached_property
    def shifts(self) -> ShiftedStretches:
        """Stretches of the bass that lie whole semitones off the other parts."""
        from basslint.hear.bassline.shift import hear_shifts

        row = self.bass_chords
        root = np.where(row >= 0, np.append(self.roots.root, -1)[row], -1).astype(np.int64)
        return hear_shifts(self.bass, self.accompaniment, root, self.song.grid)

    @cached_property
    def lags(self) -> Lags:
        """Bass parts that lie a constant time behind or before the drums."""
        from basslint.hear.bassline.lag import hear_lags

        drums, bass = self.parts.drums, self.parts.bass
        parts = range(len(self.song.parts))
        others = self.song.rows_of([i for i in parts if i not in drums and i not in bass])
        return hear_lags(
            self.bass,
            self.song.notes_of(*drums),
            self.song.notes.take(others),
            self.song.tempo,
        )

    @cached_property
    def pitched_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that belong to a part that is no drums, [m]."""
        drums = self.parts.drums
        return self.song.rows_of([i for i in range(len(self.song.parts)) if i not in drums])

    @cached_property
    def pitched(self) -> Notes:
        """The notes of all parts but the drums, [m], in order of time."""
        return self.song.notes.take(self.pitched_rows)

    @cached_property
    def roots(self) -> Roots:
        """The chord roots of the harmony, stated or heard; the bass has no say in them.

        What is stated wins, then what a loop of sound says, then the parts of the file.
        """
        from basslint.hear.harmony.sources import laid_over

        stated = self.stated_roots
        if len(stated) and stated.start[0] <= 0:  # nothing is left to hear
            return stated
        return laid_over(self.told_roots, self.heard_roots)

    @cached_property
    def heard_roots(self) -> Roots:
        """The chord roots as they are heard, whatever the user states."""
        from basslint.hear.harmony.roots import hear_roots

        twin, self._twin = self._twin, None  # kept no longer than it is needed
        if twin is not None and _harmony_equal(self, twin):
            return twin.heard_roots
        return hear_roots(self.song, self.parts.harmony, self.chord_rows_elsewhere)

    @cached_property
    def chord_rows_elsewhere(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that are struck as chords in parts beside the harmony."""
        from basslint.hear.harmony.chords_elsewhere import rows_of_chords

        return rows_of_chords(self.song, self.parts)

    @property
    def harmony_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that roots are heard from, rising."""
        rows = self.song.rows_of(self.parts.harmony)
        elsewhere = self.chord_rows_elsewhere
        return np.union1d(rows, elsewhere) if len(elsewhere) else rows

    @cached_property
    def stated_roots(self) -> Roots:
        """The chord roots that the user states."""
        from basslint.hear.harmony.sources import no_roots

        if not self.facts.chords:
            return no_roots()
        from basslint.hear.harmony.stated import stated_roots

        return stated_roots(self.song.grid, self.facts.chords)

    @cached_property
    def witnesses(self) -> Witnesses:
        """Where the harmony is stated, or sounds in a loop, and is heard in the parts as well."""
        from basslint.hear.harmony.sources import no_roots
        from basslint.hear.harmony.witnesses import compare

        told = self.told_roots
        return compare(told, self.heard_roots if len(told) else no_roots(), self.song.division)

    @cached_property
    def told_roots(self) -> Roots:
        """The chord roots that come from outside the file: stated ones, then those of loops."""
        from basslint.hear.harmony.sources import laid_over

        if self.loops is None:
            return self.stated_roots
        return laid_over(self.stated_roots, self.loops.roots)

    @property
    def loop_tuning(self) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[str, ...]]:
        """Cents that each loop of sound stands above A = 440 Hz, how sure that is, its name."""
        if self.facts.loop_cents is not None:
            return np.array([self.facts.loop_cents]), np.ones(1), ("the loop",)
        if self.loops is None:
            return np.zeros(0), np.zeros(0), ()
        return self.loops.cents, self.loops.certainty, self.loops.name

    @cached_property
    def bass_chords(self) -> NDArray[np.intp]:
        """Row of ``roots`` that each bass note belongs to, [m]; −1 where no harmony sounds."""
        from basslint.hear.harmony.cover import chord_rows

        return chord_rows(self.bass, self.roots, self.song.division)

    @cached_property
    def keys(self) -> Keys:
        """The keys, stated or heard."""
        from basslint.hear.key.keys import hear_keys, stated_key

        pitched = tuple(i for i, r in enumerate(self.parts.role) if r in ("harmony", "melody"))
        # chords that are stated in full say more of the key than the bass under test
        known = self.stated_roots if self.loops is None else self.roots
        heard = pitched or (() if (known.tones.sum(axis=1) > 2).any() else self.parts.bass)
        if self.facts.key is not None:
            return stated_key(self.song, heard, self.facts.key)
        return hear_keys(self.song, heard, self.roots)

    @cached_property
    def phrases(self) -> Phrases:
        """Where phrases begin and end."""
        from basslint.hear.form.phrases import hear_phrases

        return hear_phrases(self.song, self.parts)

    @cached_property
    def pattern(self) -> Pattern:
        """Which bass pattern which bars hold."""
        from basslint.hear.bassline.pattern import hear_pattern

        return hear_pattern(self.song, self.bass, self.roots, self.bass_chords, self.phrases)

    @cached_property
    def functions(self) -> NDArray[np.int8]:
        """What each bass note does in its harmony, [m] indexes into `functions.FUNCTIONS`."""
        from basslint.hear.bassline.functions import note_functions

        return note_functions(
            self.song, self.bass, self.roots, self.bass_chords, self.keys, self.pattern
        )

    @cached_property
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

    @cached_property
    def unstated_range(self) -> Unstated:
        """The bass notes with which bends of an assumed range begin."""
        from basslint.hear.slides.unstated_range import hear_unstated

        return hear_unstated(self.song, self.bass, self.facts.bend_range)

    @cached_property
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

    def with_roots_of(self, other: Chart) -> Chart:
        """This chart with the roots heard in ``other``, where harmony and bars are the same.

        It spares hearing them again in a copy of which only other parts were mended.
        """
        self._twin = other
        return self

    def root_at(self, tick: NDArray[np.int64]) -> NDArray[np.intp]:
        """Row of ``roots`` that sounds at each tick, −1 where no harmony does."""
        return row_at(self.roots.start, self.roots.end, tick)

    def key_at(self, tick: NDArray[np.int64]) -> NDArray[np.intp]:
        """Row of ``keys`` in force at each tick, −1 where no key was heard."""
        return row_at(self.keys.start, self.keys.end, tick)

    def key_source(self, row: int) -> Source:
        """Where a stretch of ``keys`` comes from: what the user states, else what most of its roots
        come from."""
        from basslint.hear.harmony.sources import SOURCES

        if self.keys.stated:
            return "stated"
        roots, keys = self.roots, self.keys
        shared = np.minimum(roots.end, keys.end[row]) - np.maximum(roots.start, keys.start[row])
        time = np.bincount(roots.source, np.maximum(shared, 0), minlength=len(SOURCES))
        return SOURCES[int(time.argmax())]

    def spelling_at(self, tick: int) -> tuple[str, ...]:
        """The twelve note names of the key in force at a tick."""
        row = int(self.key_at(np.array([tick]))[0])
        if row < 0:
            return SHARPS
        return spelling(int(self.keys.tonic[row]), self.keys.mode[row])


def _harmony_equal(one: Chart, other: Chart) -> bool:
    """Do all notes and bars that roots are heard from agree in two charts?"""
    mine, theirs = (c.song.notes.take(c.harmony_rows) for c in (one, other))
    columns = ("start", "end", "pitch", "velocity", "part")
    lines = [f.name for f in fields(one.song.grid)]
    return all(np.array_equal(getattr(mine, c), getattr(theirs, c)) for c in columns) and all(
        np.array_equal(getattr(one.song.grid, x), getattr(other.song.grid, x)) for x in lines
    )
