"""What is heard of the parts, their harmony and their key, before the bass is looked at?

The bass under test never decides its own root: nothing here asks what it plays. Each question is
asked once, when first needed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

import numpy as np
from numpy.typing import NDArray

from basslint.hear.facts import Facts
from basslint.hear.memo import Answers, asked_once, own_answers
from basslint.song.arrangement import Notes, Song
from basslint.theory.names import SHARPS, pitch_name, spelling
from basslint.util.columns import distinct, row_at
from basslint.util.records import names_of

if TYPE_CHECKING:
    from basslint.hear.harmony.loops import Loops
    from basslint.hear.harmony.sources import Roots, Source
    from basslint.hear.harmony.witnesses import Witnesses
    from basslint.hear.key.keys import Keys
    from basslint.hear.parts.parts import Parts


class HarmonyChart:
    """What is heard in ``song`` but for its bass line, given what the user stated in ``facts``.

    ``answers`` keeps what later stages asked of it, by the function that answers.
    """

    def __init__(
        self, song: Song, facts: Facts, path: str = "", loops: Loops | None = None
    ) -> None:
        self.song = song
        self.facts = facts
        self.path = path
        self.loops = loops
        self.answers: Answers = {}
        self._twin: HarmonyChart | None = None

    def __reduce__(self) -> tuple[object, ...]:
        """A chart goes to another process with what it has heard itself."""
        made = (type(self), (self.song, self.facts, self.path, self.loops), own_answers(self))
        return (*made, None, None, _answered)

    @asked_once
    def parts(self) -> Parts:
        """Which part plays which role."""
        from basslint.hear.parts.parts import hear_parts
        from basslint.hear.parts.stated import parts_named

        bass = parts_named(self.song, self.facts.bass, "--bass", self.path)
        harmony = parts_named(self.song, self.facts.harmony, "--harmony", self.path)
        return hear_parts(self.song, bass, harmony)

    @asked_once
    def bass_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that belong to a bass part, [m]."""
        return self.song.rows_of(self.parts.bass)

    @asked_once
    def written(self) -> Notes:
        """All notes of the song; a note that the file never ends has the end that was meant."""
        from basslint.hear.stuck_notes import end_stuck_notes

        return end_stuck_notes(self.song.notes, self.song.division)

    @asked_once
    def roots(self) -> Roots:
        """The chord roots of the harmony, stated or heard; the bass has no say in them.

        What is stated wins, then what a loop of sound says, helped by the parts of the file where
        it is unsure, then the parts alone.
        """
        from basslint.hear.harmony.sources import laid_over

        stated = self.stated_roots
        if len(stated) and stated.start[0] <= 0:  # nothing is left to hear
            return stated
        if self.loops is None:
            return laid_over(stated, self.heard_roots)
        from basslint.hear.harmony.together import heard_together

        return laid_over(stated, heard_together(self.loops.roots, self.heard_roots))

    @asked_once
    def heard_roots(self) -> Roots:
        """The chord roots as they are heard, whatever the user states."""
        from basslint.hear.harmony.roots import hear_roots

        twin, self._twin = self._twin, None  # kept no longer than it is needed
        if twin is not None and _harmony_equal(self, twin):
            return twin.heard_roots
        return hear_roots(self.song, self.parts.harmony, self.chord_rows_elsewhere)

    @asked_once
    def chord_rows_elsewhere(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that are struck as chords in parts beside the harmony."""
        from basslint.hear.harmony.chords_elsewhere import rows_of_chords

        return rows_of_chords(self.song, self.parts)

    @property
    def harmony_rows(self) -> NDArray[np.intp]:
        """Rows of ``song.notes`` that roots are heard from, rising."""
        rows = self.song.rows_of(self.parts.harmony)
        elsewhere = self.chord_rows_elsewhere
        return distinct(np.concatenate((rows, elsewhere))) if len(elsewhere) else rows

    @asked_once
    def stated_roots(self) -> Roots:
        """The chord roots that the user states."""
        from basslint.hear.harmony.sources import no_roots

        if not self.facts.chords:
            return no_roots()
        from basslint.hear.harmony.stated import stated_roots

        return stated_roots(self.song.grid, self.facts.chords)

    @asked_once
    def witnesses(self) -> Witnesses:
        """Where the harmony is stated, or sounds in a loop, and is heard in the parts as well."""
        from basslint.hear.harmony.sources import no_roots
        from basslint.hear.harmony.witnesses import compare

        outside = self.outside_roots
        return compare(
            outside, self.heard_roots if len(outside) else no_roots(), self.song.division
        )

    @asked_once
    def outside_roots(self) -> Roots:
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

    @asked_once
    def keys(self) -> Keys:
        """The keys, stated or heard."""
        from basslint.hear.key.keys import hear_keys, say_the_scale, stated_key

        pitched = tuple(i for i, r in enumerate(self.parts.role) if r in ("harmony", "melody"))
        known = self.stated_roots if self.loops is None else self.roots
        heard = pitched or (() if say_the_scale(known) else self.parts.bass)
        if self.facts.key is not None:
            return stated_key(self.song, heard, self.facts.key)
        return hear_keys(self.song, heard, self.roots)

    def with_roots_of(self, other: HarmonyChart) -> Self:
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

    def scale_fit_at(self, tick: NDArray[np.int64]) -> NDArray[np.float64]:
        """How likely each pitch class is of the scale in force at each tick, [n, 12]; 1 for all of
        them where no key was heard."""
        row = self.key_at(tick)
        fit = np.ones((len(tick), 12))
        fit[row >= 0] = self.keys.fit[row[row >= 0]]
        return fit

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
        return self.spelling_in(int(self.key_at(np.array([tick]))[0]))

    def spelling_in(self, row: int) -> tuple[str, ...]:
        """The twelve note names of a key, by its row; of no key where that is −1."""
        if row < 0:
            return SHARPS
        return spelling(int(self.keys.tonic[row]), self.keys.mode[row])

    def note_name(self, pitch: int, tick: int) -> str:
        """Name of a MIDI number in the key at a tick, its octave as the user's gear prints it."""
        return pitch_name(pitch, self.spelling_at(tick), self.facts.middle_c)


def _harmony_equal(one: HarmonyChart, other: HarmonyChart) -> bool:
    """Do all notes and bars that roots are heard from agree in two charts?"""
    mine, theirs = (c.song.notes.take(c.harmony_rows) for c in (one, other))
    columns = ("start", "end", "pitch", "velocity", "part")
    return all(np.array_equal(getattr(mine, c), getattr(theirs, c)) for c in columns) and all(
        np.array_equal(getattr(one.song.grid, x), getattr(other.song.grid, x))
        for x in names_of(one.song.grid)
    )


def _answered(chart: HarmonyChart, answers: dict[str, object]) -> None:
    """Give a chart that was sent here what it has heard."""
    for name, answer in answers.items():
        setattr(chart, name, answer)
