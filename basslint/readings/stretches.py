"""What is true of a stretch of the bass that lies semitones off the other parts as a whole?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import LOOP
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.theory.names import key_name

if TYPE_CHECKING:
    from basslint.hear.bassline.which_is_off import WhichIsOff

_MOST_NAMED = 3  # parts that a sentence names
_STEPS = (
    "",
    "a semitone",
    "a whole tone",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
)


@reading("stretch", unit="semitones", source="fitted, see hear/bassline/shift.py")
def shift_semitones(chart: Chart) -> Column:
    """How far it lies above where it fits the other parts; negative: below."""
    return chart.shifts.semitones.astype(np.float64)


@reading("stretch", unit="share", source="fitted, see hear/bassline/shift.py")
def shift_chance(chart: Chart) -> Column:
    """How sure that shift is, of the twelve within a tritone up or down."""
    return chart.shifts.certainty


@reading("stretch", unit="yes or no")
def from_first_to_last(chart: Chart) -> Column:
    """Does the part lie off so from its first note to its last?"""
    return chart.shifts.whole


@reading("stretch", unit="bars")
def stretch_bars(chart: Chart) -> Column:
    """How many bars long it is."""
    grid, shifts = chart.song.grid, chart.shifts
    last = grid.bar_of(np.maximum(shifts.end - 1, shifts.start))
    return np.asarray(last - grid.bar_of(shifts.start) + 1, dtype=np.float64)


@reading("stretch", unit="text", source="harmony, common practice: intervals")
def shift_words(chart: Chart) -> Column:
    """How far it lies off and which way, in words, such as “a semitone above”."""
    return words(
        [
            f"{_STEPS[abs(n)]} {'above' if n > 0 else 'below'}"
            for n in chart.shifts.semitones.tolist()
        ]
    )


@reading("stretch", unit="text")
def shift_back(chart: Chart) -> Column:
    """The way back, in semitones with a sign, such as −1."""
    return words([f"{-n:+d}".replace("-", "−") for n in chart.shifts.semitones.tolist()])


@reading("stretch", unit="text")
def stretch_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.shifts.part.tolist()])


@reading("stretch", unit="text")
def shift_side(chart: Chart) -> Column:
    """Which side lies off: the bass, the others, or unknown where nothing tells."""
    return words([side.side for side in chart.sides])


@reading("stretch", unit="yes or no", source="set by hand, see hear/bassline/which_is_off.py")
def parts_divided(chart: Chart) -> Column:
    """Do other parts go with it as it is, so that two camps play in two keys and neither is off?"""
    pairs = zip(chart.sides, chart.shifts.whole.tolist(), strict=True)
    return np.array([side.divided(whole) for side, whole in pairs], dtype=bool)


@reading("stretch", unit="text")
def shift_verdict(chart: Chart) -> Column:
    """Which side lies off and what tells so, as a sentence."""
    return words([_verdict(chart, side) for side in chart.sides])


@reading("stretch", unit="text", source="the key, as charted")
def shift_keys(chart: Chart) -> Column:
    """The keys of both sides, such as “ (it plays in Bb minor, they in A minor)”, where heard."""
    rows = chart.key_at(chart.shifts.start)
    texts = []
    for row, by in zip(rows.tolist(), chart.shifts.semitones.tolist(), strict=True):
        if row < 0:
            texts.append("")
            continue
        tonic, mode = int(chart.keys.tonic[row]), chart.keys.mode[row]
        mine, theirs = key_name((tonic + by) % 12, mode), key_name(tonic, mode)
        texts.append(f" (it plays in {mine}, they in {theirs})")
    return words(texts)


@reading("stretch", unit="text")
def shift_cause(chart: Chart) -> Column:
    """What to check first, as a sentence: the root key of the one-shot, where the bass is off."""
    return words(
        [
            _cause(chart, side, by)
            for side, by in zip(chart.sides, chart.shifts.semitones.tolist(), strict=True)
        ]
    )


def _verdict(chart: Chart, side: WhichIsOff) -> str:
    if side.stated and (chart.outside_roots.source == LOOP).any():
        return (
            "The loop is taken as it is stated, so it is the bass that lies off; where its sampler "
            "plays it higher or lower, state its `semitones` under [[loop]]."
        )
    if side.stated:
        return "The harmony is stated, so it is the bass that lies off."
    if side.side == "bass":
        return f"{_listed(chart, side.asking)} agree with each other: it is the bass that lies off."
    if side.side == "others":
        right, off = _listed(chart, side.with_bass), _listed(chart, side.asking)
        return f"The bass fits {right} as it is: what lies off is {off}."
    if side.with_bass:
        return "The other parts do not agree which of them is right."
    return "Nothing else sounds that tells which of the two lies off."


def _listed(chart: Chart, parts: tuple[int, ...]) -> str:
    names = [chart.song.parts[part].name for part in parts]
    if len(names) > _MOST_NAMED:
        names = [*names[:_MOST_NAMED], f"{len(names) - _MOST_NAMED} more"]
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _cause(chart: Chart, side: WhichIsOff, semitones: int) -> str:
    facts = chart.facts
    if side.side == "others":
        return "See what it was transposed by."
    if facts.sound_pitch is None:
        return (
            "If a sampler plays it, state its one-shot with --sound: a wrong root key is the "
            "commonest cause. Else see what it was transposed by."
        )
    # the key from which the notes lie off, as they are judged
    tuning, root = chart.tuning, facts.root_key
    if root is None or tuning.judged != tuning.off:
        root = facts.sound_pitch - tuning.judged
    sound = chart.note_name(round(facts.sound_pitch), 0)
    key = chart.note_name(round(root) + semitones, 0)
    return (
        f"Check the root key of its sampler first: the one-shot sounds {sound}, and with the root "
        f"key on {key} the line fits as it is written."
    )
