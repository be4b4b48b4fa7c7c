"""Which evidence makes a bass note a likely slip, in words?

Evidence is told where its value speaks for a slip more than that of bass notes at large does, the
heaviest first. What speaks against one is not told, but counted all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.against_harmony import chord_names_at, root_words_at
from basslint.readings.base import Column, row_reading
from basslint.readings.line import ON_BEAT
from basslint.readings.notes import bass_spellings, beats_in_words, length, words
from basslint.readings.over_loop import ends_at
from basslint.readings.recurrence import (
    copies_otherwise,
    figures,
    places_in_loop,
    tones,
    tones_on_places,
)
from basslint.readings.slip import (
    figure_chance_of,
    figure_evidence,
    lone_evidence,
    slip_chance,
)
from basslint.readings.slip_weights import FIGURE, LONE, Model
from basslint.theory.names import SPELLINGS

Floats = NDArray[np.float64]

_WORTH_WORDS = 0.05  # chance of a slip: below it nobody asks for words
_MOST_PIECES = 3  # pieces of evidence that a sentence holds
_LEAST = 0.3  # log odds: less weight is not worth a word
FAR = 8.0  # quarters: two bars of 4/4 in which nobody plays the tone


@row_reading("bass-note", unit="text")
def slip_words(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """What speaks most for a slip, in words: “nobody else plays F#; it rubs with F for 2 beats”."""
    worth = slip_chance(chart)[rows] > _WORTH_WORDS
    return _worded(chart, LONE, lone_evidence(chart)[rows], rows, worth)


@row_reading("bass-note", unit="text")
def figure_words(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """What speaks most for a slip in the figure it belongs to, in words."""
    worth = figure_chance_of(chart, rows) > _WORTH_WORDS
    if not np.count_nonzero(worth):
        return words([None] * len(rows))
    evidence = figure_evidence(chart)[figures(chart).of[rows]]
    return _worded(chart, FIGURE, evidence, rows, worth)


@row_reading("bass-note", unit="text")
def copies_words(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """What the bass has on its place all the other times: “The other 12 times it has A there”."""
    column, count = words([None] * len(rows)), copies_otherwise(chart)[rows]
    spelled, table = bass_spellings(chart)[rows], tones_on_places(chart)
    most = table[places_in_loop(chart)[rows]].argmax(axis=1)
    for place in (count > 1).nonzero()[0].tolist():
        name = SPELLINGS[int(spelled[place])][int(most[place])]
        column[place] = f"the other {int(count[place])} times the bass has {name} there"
    return column


@row_reading("bass-note", unit="text")
def harmony_words(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """What it stands under: “under Am; the root is A”, “while Am moves to Dm”, or “with C and E”.

    The last are the tones that sound, where no chord is told.
    """
    column = words([None] * len(rows))
    spelled = bass_spellings(chart)
    likely = np.maximum(slip_chance(chart)[rows], figure_chance_of(chart, rows)) > _WORTH_WORDS
    places = likely.nonzero()[0]
    rows = rows[places]
    names_of = zip(
        chord_names_at(chart, rows), root_words_at(chart, rows), ends_at(chart, rows), strict=True
    )
    for place, row, (chord, root, ends) in zip(
        places.tolist(), rows.tolist(), names_of, strict=True
    ):
        if chord is not None:
            column[place] = f"under {chord}; {root}"
            continue
        if ends is not None:
            column[place] = f"while {ends[0]} moves to {ends[1]}"
            continue
        share = chart.accompaniment.share[row]
        tones = [int(t) for t in np.argsort(-share)[:_MOST_PIECES] if share[t] > 0]
        names = [SPELLINGS[int(spelled[row])][t] for t in sorted(tones)]
        column[place] = f"with {_listed(names)}" if names else "where nothing else sounds"
    return column


def _listed(names: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _worded(
    chart: Chart,
    model: Model,
    evidence: Floats,
    rows: NDArray[np.intp],
    worth: NDArray[np.bool_],
) -> Column:
    """Words for those rows that are worth them, None for the others; ``evidence`` [rows, k]."""
    column = words([None] * len(rows))
    weight = np.array([w for _, w, _ in model.weights])
    usual = np.array([u for *_, u in model.weights])
    places = worth.nonzero()[0]
    odds = weight * (evidence[places] - usual)
    say = words_of(chart)
    heaviest = (-odds).argsort(axis=1).tolist()
    of_rows = zip(places.tolist(), rows[places].tolist(), odds.tolist(), heaviest, strict=True)
    for place, row, own, order in of_rows:
        told: list[str] = []
        for piece in order:
            if own[piece] < _LEAST or len(told) == _MOST_PIECES:
                break
            text = say.of(model.weights[piece][0], row)
            if text and text not in told:
                told.append(text)
        text = "; ".join(told) or "all the evidence together speaks for a slip"
        column[place] = text[0].upper() + text[1:]
    return column


class SlipWords:
    """Words for pieces of evidence about a bass note, by its row."""

    def __init__(self, chart: Chart) -> None:
        self._chart = chart
        self._spelled = bass_spellings(chart)
        self._say: Mapping[str, Callable[[int], str]] = {
            "supported": self.unsupported,
            "heard_near": self.unsupported,
            "rub_share": self._rubs,
            "semitone_in_copies": self.beside,
            "in_scale_chance": lambda row: "it is foreign to the scale",
            "accent": self.place,
            "stand": lambda row: "it lasts",
            "tone_in_song": lambda row: f"{self.tone(row)} is rare in this song",
        }

    def of(self, name: str, row: int) -> str:
        """Words by which the evidence of a reading speaks for a slip; empty where it has none."""
        say = self._say.get(name)
        return say(row) if say else ""

    def tone(self, row: int) -> str:
        """The name of its pitch class."""
        return self._name(row, int(self._chart.bass.pitch[row]))

    def _name(self, row: int, tone: int) -> str:
        return SPELLINGS[int(self._spelled[row])][tone % 12]

    def unsupported(self, row: int) -> str:
        """That no other part plays its pitch class, and for how long none does."""
        if float(self._chart.accompaniment.gap[row]) >= FAR:
            return f"nobody else plays {self.tone(row)} for bars around"
        return f"nobody else plays {self.tone(row)} with it"

    def unheard_near(self, row: int) -> str:
        """That no other part plays its pitch class near it, and for how long none does."""
        far = float(self._chart.accompaniment.gap[row]) >= FAR
        return f"nobody else plays {self.tone(row)} {'for bars around' if far else 'near it'}"

    def _beside(self, row: int) -> tuple[str, float]:
        """What sounds a semitone beside it, and for which share of it."""
        pitch, share = int(self._chart.bass.pitch[row]), self._chart.accompaniment.known[row]
        up, down = float(share[(pitch + 1) % 12]), float(share[(pitch - 1) % 12])
        return self._name(row, pitch + (1 if up >= down else -1)), max(up, down)

    def rubs_with(self, row: int) -> str:
        """The name of what sounds a semitone beside it; empty where nothing does."""
        name, share = self._beside(row)
        return name if share > 0 else ""

    def _rubs(self, row: int) -> str:
        name, share = self._beside(row)
        held = share * float(length(self._chart)[row])
        return f"it rubs with {name} for {beats_in_words(round(held, 2))}" if held > 0 else ""

    def beside(self, row: int) -> str:
        """What the bass plays a semitone beside it on its place elsewhere; empty for nothing."""
        other = _tone_beside(self._chart)[row]
        return f"elsewhere the bass has {self._name(row, int(other))} there" if other >= 0 else ""

    def place(self, row: int) -> str:
        """The beat on which it stands."""
        beat = float(self._chart.song.grid.beat_of(self._chart.bass.start[row : row + 1])[0])
        if abs(beat - round(beat)) > ON_BEAT:
            return "it stands off the beat"
        return f"it stands on beat {round(beat)}"


@once_per_chart
def words_of(chart: Chart) -> SlipWords:
    """The words for a song's bass notes; names are spelled once for all of them."""
    return SlipWords(chart)


@once_per_chart
def _tone_beside(chart: Chart) -> NDArray[np.int64]:
    """Pitch class a semitone beside each note that the bass plays on its place, [m]; −1 none."""
    key, tone, count = places_in_loop(chart), tones(chart), tones_on_places(chart)
    up, down = count[key, (tone + 1) % 12], count[key, (tone - 1) % 12]
    best = np.where(up >= down, (tone + 1) % 12, (tone - 1) % 12)
    return np.where(np.maximum(up, down) > 0, best, -1)
