"""How sure are we of the facts that a rule leans on, row by row, and if not sure, why?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.cover import longest_overlap
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP, MIDI
from basslint.hear.memo import Later
from basslint.readings.accompaniment import SILENT, tones_around
from basslint.readings.against_harmony import rooted
from basslint.readings.bare_roots import chance_of_tone, some_bare
from basslint.readings.base import Rows
from basslint.readings.scale_chance import in_scale_chance, landing_in_scale_chance, of_scale
from basslint.readings.songs import LOOP_TUNED
from basslint.readings.subjects import Subject
from basslint.theory.acoustics import STILL_HEARD_DB
from basslint.util.columns import last_row
from basslint.util.records import record

Numbers = Mapping[str, float]

_MAY_BE = "only the root of the chord is stated, and the note may be another tone of it"
_NO_CLEAR_PHRASE = "where the phrases begin is not clear enough; set markers in the file"
_FEWEST_TONES = 3  # pitch classes in a bar: two may mean several chords
_IN_SIGHT = 0.4  # a root: below it the harmony says next to nothing


@record(eq=False)
class Ground:
    """Certainty of one fact under each row, float64 [n] in 0..1, and the reason where it lacks.

    An empty reason says that the question does not arise, so that nothing is reported.
    """

    certainty: NDArray[np.float64]
    reason: Callable[[int], str]


@record
class Fact:
    """A fact that rules may need: what it is, and how sure it must be unless a page says so.

    ``ground`` gets the numbers of the page that asks, by name, to word its reason with them.
    ``of``: the subjects it can be told of; empty: all.
    """

    meaning: str
    least: float
    ground: Callable[[Chart, Rows, Numbers], Ground]
    of: tuple[Subject, ...] = ()


def _chord_of(chart: Chart, rows: Rows) -> NDArray[np.intp]:
    """Row of the roots under each row, -1 where there is none."""
    if rows.tick is chart.bass.start or np.array_equal(rows.note, chart.bass_rows):
        return np.where(rooted(chart), chart.bass_chords, -1)
    row = longest_overlap(rows.tick, rows.end_tick, chart.roots.start, chart.roots.end)
    return np.where(np.append(chart.roots.root, -1)[row] >= 0, row, -1)


def _root(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    row = _chord_of(chart, rows)
    has_root = row >= 0
    certainty = np.concatenate((chart.roots.certainty, (0.0,)))[row]  # −1, no chord: the last one
    return Ground(certainty, _no_root(chart, rows, has_root))


def _no_root(chart: Chart, rows: Rows, has_root: NDArray[np.bool_]) -> Callable[[int], str]:
    """Why a root is not sure; ``has_root`` [n]: whether any is, under each row."""

    def reason(i: int) -> str:
        if not chart.parts.harmony and not len(chart.roots):
            if chart.facts.loops:
                return "no root is told in the loop; state its chords with --chords"
            return (
                "no harmony part was found; name it with --harmony, state it with --chords, "
                "or name a sample with --loop"
            )
        if not has_root[i]:
            from basslint.readings.over_loop import without_chord

            return without_chord(chart, int(rows.tick[i]), int(rows.end_tick[i]))
        return "the harmony does not say clearly enough which chord this is"

    return reason


def _fits(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    """Whether its pitch class fits the harmony, all chords that this may mean taken together.

    It is surer than the root itself: a note may be foreign to all of them. But where no chord is
    in sight, any note is as foreign as the next.
    """
    row = _chord_of(chart, rows)
    has_root = row >= 0
    other = _no_root(chart, rows, has_root)
    if not len(chart.roots):
        return Ground(np.zeros(len(rows)), other)
    fit = chart.roots.fit[row, chart.notes.pitch[rows.note] % 12]  # −1, no chord: not told below
    root = chart.roots.certainty[row]
    # a sure root tells its other tones from foreign notes
    sure = np.maximum(np.maximum(fit, 1.0 - fit), root)
    certainty = np.where(has_root & (root >= _in_sight(chart, row)), sure, 0.0)
    if not some_bare(chart):
        return Ground(certainty, other)
    may_be = chance_of_tone(chart, rows.note, row)
    certainty = np.minimum(certainty, 1.0 - may_be)
    return Ground(certainty, lambda i: _MAY_BE if may_be[i] > 0.0 and has_root[i] else other(i))


def _in_sight(chart: Chart, row: NDArray[np.intp]) -> NDArray[np.float64] | float:
    """How sure a root must be for what is foreign to its chord to be told at all, by row of roots.

    A melody alone leaves open which chords are meant: there a root must be certain by itself.
    """
    if {chart.parts.role[i] for i in chart.parts.harmony} != {"melody"}:
        return _IN_SIGHT
    return np.where(chart.roots.source[row] == MIDI, FACTS["fit"].least, _IN_SIGHT)


def _key(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    return _in_force(chart, rows, chart.keys.certainty)


def _scale(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    """The seven notes alone: which of the relative keys is home does not matter to them."""
    return _in_force(chart, rows, chart.keys.scale_certainty)


def _note_in_scale(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    if rows.tick is chart.bass.start:
        return _decided(in_scale_chance(chart))
    return _decided(of_scale(chart, rows.tick, chart.notes.pitch[rows.note].astype(np.int64)))


def _landing_in_scale(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    return _decided(landing_in_scale_chance(chart))


def _decided(chance: NDArray[np.float64]) -> Ground:
    sure = np.where(np.isnan(chance), 0.0, np.maximum(chance, 1.0 - chance))
    return Ground(sure, lambda _: "the key is not clear enough; state it with --key")


def _in_force(chart: Chart, rows: Rows, certainty: NDArray[np.float64]) -> Ground:
    row = chart.key_at(rows.tick)
    sure = np.zeros(len(rows))
    sure[row >= 0] = certainty[row[row >= 0]]
    return Ground(sure, lambda _: "the key is not clear enough; state it with --key")


def _phrase(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    phrases = chart.phrases
    bar = chart.song.grid.bar_of(rows.end_tick - 1)
    if not len(phrases.start_bar):
        return Ground(np.zeros(len(rows)), lambda _: "no phrases were found")
    row = last_row(phrases.start_bar, bar)
    after = np.minimum(row + 1, len(phrases.start_bar) - 1)
    certainty = np.minimum(phrases.certainty[row], phrases.certainty[after])
    return Ground(certainty, lambda _: _NO_CLEAR_PHRASE)


def _four_bars(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    if not len(chart.phrases.start_bar):
        return _phrase(chart, rows, numbers)
    from basslint.readings.phrase_ends import four_bar_certainty

    share = four_bar_certainty(chart, rows.end_tick - 1)
    return Ground(share, lambda _: _NO_CLEAR_PHRASE)


def _decay(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    from basslint.hear.slides.slides import needed_ring_s

    known, sound = chart.facts.decay_s is not None, chart.facts.sound
    unknown = "the decay of the sound is unknown"
    advice = "state it with --decay or --sound"
    if sound is not None:  # as the advice was, and it did not help
        unknown = f"no decay could be measured in {PurePath(sound).name}"
        advice = "state it with --decay"

    def reason() -> str:
        ring = needed_ring_s(chart.slides, chart.song, numbers.get("floor_db", STILL_HEARD_DB))
        if ring is None:
            return f"{unknown}; {advice}"
        seconds, row = ring
        bar = int(chart.song.grid.bar_of(int(chart.slides.start[row]))) + 1
        return (
            f"{unknown}; to hear every slide it must ring for at least "
            f"{seconds * 1000:.0f} ms (time to fall by 60 dB), which the slide in bar {bar} needs; "
            f"{advice}"
        )

    once = Later(reason)
    return Ground(np.full(len(rows), 1.0 if known else 0.0), lambda _: once())


def _bend_range(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    stated = chart.slides.range_stated
    certainty = np.where(stated, 1.0, 0.0) if len(stated) == len(rows) else np.ones(len(rows))
    return Ground(
        certainty, lambda _: "the file does not say how far its bends reach; use --bend-range"
    )


def _drums(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    return Ground(
        np.full(len(rows), 1.0 if chart.parts.drums else 0.0), lambda _: "no drum part was found"
    )


def _accompaniment(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    """Do other parts sound enough around a bass note to tell whether it belongs?"""
    tones = tones_around(chart)
    may_be = np.zeros(len(tones))
    if some_bare(chart):
        may_be = chance_of_tone(chart, rows.note, _chord_of(chart, rows))
    sure = np.where(tones >= _FEWEST_TONES, 1.0 - may_be, 0.0)
    if not np.count_nonzero(chart.roots.source == LOOP):
        return Ground(sure, lambda row: _too_few(tones, may_be, row))
    from basslint.readings.over_loop import MOVES, UNCLEAR, over_loop

    unclear, moving, foreign = over_loop(chart)
    sure = np.where(unclear | moving, 0.0, np.where(foreign, 1.0, sure))

    def reason(row: int) -> str:
        if moving[row] or unclear[row]:
            return MOVES if moving[row] else UNCLEAR
        return _too_few(tones, may_be, row)

    return Ground(sure, reason)


def _too_few(tones: NDArray[np.float64], may_be: NDArray[np.float64], row: int) -> str:
    """Why the tones around a bass note do not tell the harmony."""
    if tones[row] == 0:
        return SILENT
    return _MAY_BE if may_be[row] > 0 else "too few tones sound here to tell the harmony"


def _harmony(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    if not (chart.parts.harmony or chart.parts.melody):
        how = "name it with --harmony" if chart.loops is None else "the loop holds no single notes"
        why = f"no harmony or melody part was found; {how}"
        return Ground(np.zeros(len(rows)), lambda _: why)
    # where the parts play other chords than are stated, that is told, and not held against the bass
    differ = chart.witnesses.differ.nonzero()[0]
    if not len(differ):
        return Ground(np.ones(len(rows)), lambda _: "")
    ends, starts = chart.witnesses.end[differ], chart.witnesses.start[differ]
    doubted = np.searchsorted(ends, rows.tick, "right") < np.searchsorted(starts, rows.end_tick)
    return Ground(np.where(doubted, 0.0, 1.0), lambda _: "")


def _sound(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    known = chart.facts.sound_cents is not None
    # who names no sound has not asked for it to be judged
    why = "the cents of its sound are not sure; `basslint sound` says why"
    rough = chart.facts.sound_is_rough
    return Ground(np.full(len(rows), 1.0 if known else 0.0), lambda _: why if rough else "")


def _loop(chart: Chart, rows: Rows, numbers: Numbers) -> Ground:
    sure = chart.loop_tuning[1]
    return Ground(
        np.full(len(rows), float(sure.max()) if len(sure) else 0.0),
        lambda _: "the notes of the loop agree on no tuning" if len(sure) else "",
    )


FACTS: dict[str, Fact] = {
    "root": Fact("the chord's root under the row", CERTAIN, _root),
    "fit": Fact("the note's fit with the harmony", 0.9, _fits, ("bass-note",)),
    "key": Fact("the key in force", 0.6, _key),
    "scale": Fact("the notes of the key in force", 0.6, _scale),
    "note-in-scale": Fact(
        "the note's place in or outside the scale", 0.6, _note_in_scale, ("bass-note", "note")
    ),
    "landing-in-scale": Fact(
        "the landing's place in or outside the scale", 0.6, _landing_in_scale, ("slide",)
    ),
    "phrase": Fact("where the phrase around the row begins and ends", 0.5, _phrase),
    "four-bars": Fact("where each four bars of the phrases end", 0.5, _four_bars),
    "decay": Fact("how fast the bass sound dies away", 0.5, _decay),
    "bend-range": Fact("how many semitones a full bend is", 0.5, _bend_range),
    "accompaniment": Fact(
        "other parts that sound with the note", 0.5, _accompaniment, ("bass-note",)
    ),
    "harmony": Fact("a harmony or melody part", 0.5, _harmony),
    "drums": Fact("a drum part", 0.5, _drums),
    "sound": Fact("a measured bass sound", 0.5, _sound),
    "loop": Fact("a loop of sound and how it is tuned", LOOP_TUNED, _loop),
}
