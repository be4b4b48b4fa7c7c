"""What speaks for a slip and what against it, piece by piece, each with its weight and in words?

A page that goes by a chance of `slip` is shown with all that was weighed, in a musician's words;
the sentence of a finding (`slip_words`) names only what weighed most for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.notes import beats_in_words, length
from basslint.readings.recurrence import figures
from basslint.readings.slip import EVIDENCE, STAND_BASE, figure_evidence, lone_evidence
from basslint.readings.slip_weights import FIGURE, LONE, Model
from basslint.readings.slip_words import SlipWords, words_of

_LEAST_ODDS = 0.15  # log odds: less changes the odds by less than a sixth, and is left out
_SOME, _MUCH = 0.5, 1.5  # log odds: from about 1.6 times, and from 4.5 times the odds
_ALWAYS, _MOSTLY, _EVER = 0.95, 0.5, 0.05  # share of a note, or of the notes of a figure
_RIGHT, _NEAR = 0.95, 0.5  # nearness: with it or right beside it; a quarter away
_BRIEFLY = 0.3  # what passes and stands for a beat has less
_ONE = 1.0  # doublings: one other tone or root
_RARE = -0.94  # doublings: half of what each of twelve pitch classes would have of all sound


class Weighed(NamedTuple):
    """A piece of evidence about one row: the ``reading`` that gives it, its ``words``, and its
    ``weight`` in log odds, counted from bass notes at large: above 0 it speaks for a slip."""

    reading: str
    words: str
    weight: float

    @property
    def speaks_for(self) -> bool:
        """Does it make a slip more likely?"""
        return self.weight > 0

    @property
    def how_much(self) -> str:
        """How much it weighs in words: much, some or little."""
        size = abs(self.weight)
        return "much" if size >= _MUCH else "some" if size >= _SOME else "little"


def weighed_by(name: str) -> bool:
    """Is a reading a chance that weighs evidence?"""
    return name in ("slip_chance", "figure_slip_chance")


def evidence_of(chart: Chart, name: str, rows: Sequence[int]) -> list[tuple[Weighed, ...]]:
    """The evidence that the chance ``name`` weighs of some bass notes, of each heaviest first.

    Nothing where no chance of that name weighs evidence, or where the note is in no figure.
    """
    if name == "slip_chance":
        at = np.array(rows, dtype=np.intp)
        columns = [EVIDENCE[n].reading(chart)[at].astype(np.float64) for n, *_ in LONE.weights]
        of_rows = zip(
            rows,
            lone_evidence(chart)[at].tolist(),
            zip(*[column.tolist() for column in columns], strict=True),
            strict=True,
        )
        return [_weighed(LONE, own, _of_note(chart, row), values) for row, own, values in of_rows]
    if name != "figure_slip_chance":
        return [()] * len(rows)
    return [_of_its_figure(chart, row, int(figures(chart).of[row])) for row in rows]


def _of_its_figure(chart: Chart, row: int, figure: int) -> tuple[Weighed, ...]:
    """The evidence about the figure of a bass note; nothing where it is in none (−1)."""
    if figure < 0:
        return ()
    evidence = figure_evidence(chart)[figure].tolist()
    values = [
        2.0**value - STAND_BASE if n == "stand" else value
        for (n, *_), value in zip(FIGURE.weights, evidence, strict=True)
    ]
    return _weighed(FIGURE, evidence, _of_figure(chart, row), values)


_Say = Mapping[str, Callable[[float], str]]  # words for each piece of evidence, from its value


def _weighed(
    model: Model, evidence: Sequence[float], say: _Say, values: Sequence[float]
) -> tuple[Weighed, ...]:
    """``evidence``: as it enters the model; ``values``: as the readings give it."""
    told = []
    for (name, weight, usual), scaled, value in zip(model.weights, evidence, values, strict=True):
        odds = weight * (scaled - usual)
        if odds >= _LEAST_ODDS or odds <= -_LEAST_ODDS:
            told.append(Weighed(name, say[name](value), round(odds, 3)))
    told.sort(key=lambda piece: -abs(piece.weight))
    return tuple(told)


def _of_note(chart: Chart, row: int) -> _Say:
    """Words for the evidence about one note."""
    words, held = words_of(chart), float(length(chart)[row])
    tone = words.tone(row)

    def rubs(share: float) -> str:
        if share <= 0:
            return "it rubs against nothing"
        return (
            f"it rubs against {words.rubs_with(row)} for {beats_in_words(round(share * held, 2))}"
        )

    def turns(others: float) -> str:
        if others < 1:
            return "nowhere else does the bass turn as it does here"
        return f"the bass turns so on {_counted(others, 'other tone')} in this song"

    def riff(roots: float) -> str:
        if roots < 1:
            return "it belongs to no riff that goes on under other roots"
        return f"the same three tones come under {_counted(roots, 'other root')}"

    def degree(roots: float) -> str:
        if roots < 1:
            return "under no other root does the bass go as far above it there"
        return f"the bass goes as far above {_counted(roots, 'other root')} there"

    def elsewhere(kinds: float) -> str:
        if kinds < 1:
            return "the bass lets no other foreign tone rub in this song"
        ways = "one other foreign tone" if kinds < 2 else f"{round(kinds)} other foreign tones"
        return f"the bass lets {ways} rub in this song"

    return {
        **_shared(chart, row, words),
        "rub_share": rubs,
        "copies_alike": lambda count: (
            f"{round(count)} other {'note' if count == 1 else 'notes'} on its place under this"
            f" chord {'is' if count == 1 else 'are'} {tone} as well"
            if count
            else f"no other note on its place under this chord is {tone}"
        ),
        "semitone_in_copies": lambda yes: (
            words.beside(row) or "elsewhere the bass plays no semitone beside it there"
        ),
        "stand": lambda beats: f"it stands for {beats_in_words(round(beats, 2))}",
        "passes_briefly": lambda share: (
            "no step in one direction passes through it"
            if share <= 0
            else f"it passes by step{'' if share >= _BRIEFLY else ', but not briefly'}"
        ),
        "turns_alike": turns,
        "riff_elsewhere": riff,
        "degree_elsewhere": degree,
        "rubs_elsewhere": elsewhere,
        "stands_alone": lambda yes: "nothing else sounds with it" if yes else "others sound too",
    }


def _of_figure(chart: Chart, row: int) -> _Say:
    """Words for the evidence about all the notes of a figure; ``row``: the one that speaks."""
    words = words_of(chart)
    tone = words.tone(row)

    def rubs(share: float) -> str:
        other = words.rubs_with(row) or "a semitone"
        if share < _EVER:
            return "it rubs against nothing"
        return f"it rubs against {other} for {_percent(share)} of its time"

    return {
        **_shared(chart, row, words),
        "rub_share": rubs,
        "stand": lambda beats: f"it stands for up to {beats_in_words(round(beats, 2))}",
        "accent": lambda level: f"it stands on {'strong' if level >= 1 else 'weak'} places",
        "passes_briefly": lambda share: (
            "it does not pass by step"
            if share < _EVER
            else f"it passes by step{'' if share >= _BRIEFLY else ', if not always briefly'}"
        ),
        "tone_in_song": lambda doublings: (
            f"{tone} is {'rare' if doublings < _RARE else 'common'} in this song"
        ),
        "turns_alike": lambda doublings: (
            "the bass turns so on other tones, too"
            if doublings >= _ONE
            else "the bass hardly turns so on other tones"
        ),
        "degree_elsewhere": lambda doublings: (
            "the bass goes as far above other roots, too"
            if doublings >= _ONE
            else "the bass hardly goes as far above other roots"
        ),
        "riff_elsewhere": lambda doublings: (
            "its riffs go on under other roots"
            if doublings >= _ONE
            else "its riffs hardly go on under other roots"
        ),
        "leads_home": lambda share: f"it {_often(share)} leads on as approaches do",
        "stands_alone": lambda share: f"nothing else {_often(share)} sounds with it",
        "usual_place": lambda share: (
            f"{_percent(share)} of its notes stand on one place of the bar"
        ),
    }


def _shared(chart: Chart, row: int, words: SlipWords) -> dict[str, Callable[[float], str]]:
    """Words that a note and a figure share."""
    tone = words.tone(row)

    def supported(share: float) -> str:
        if share < _EVER:
            return f"nobody else plays {tone} with it"
        if share >= _ALWAYS:
            return f"others play {tone} all through it"
        return f"others play {tone} for {_percent(share)} of its time"

    return {
        "supported": supported,
        "heard_near": lambda near: (
            f"others play {tone} {'with it or right' if near >= _RIGHT else 'close'} beside it"
            if near >= _NEAR
            else words.unheard_near(row)
        ),
        "in_scale_chance": lambda chance: (
            "the scale is not sure"
            if np.isnan(chance)
            else f"it is {'in' if chance >= _MOSTLY else 'foreign to'} the scale"
        ),
    }


def _counted(count: float, what: str) -> str:
    return f"{round(count)} {what}{'' if round(count) == 1 else 's'}"


def _often(share: float) -> str:
    if share >= _ALWAYS:
        return "always"
    return "mostly" if share >= _MOSTLY else "at times" if share >= _EVER else "never"


def _percent(share: float) -> str:
    return f"{round(100 * share)} %"
