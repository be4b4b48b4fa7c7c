"""Which of the two lies off where a bass and the other parts are semitones apart?

Each other part is asked by itself: do its notes agree with the bass as it is written, or with the
bass moved by the shift? Where two parts or more ask for the shift, and none goes with the bass, it
is the bass. Where a part goes with the bass and only one asks for the shift, it is that one, if
those that go with the bass ask it to move as well. Another bass is a voice as any part is. What
the user states of the harmony stands above all parts. Otherwise it cannot be told: a bass and one
other part are two opinions. Common practice, no source; limits set by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np

from basslint.hear.bassline.accompaniment import hear_accompaniment
from basslint.hear.bassline.shift import fit_of_notes, lead_of
from basslint.hear.harmony.sources import no_roots
from basslint.song.events import Notes
from basslint.song.timing import BarGrid
from basslint.util.records import record

Side = Literal["bass", "others", "unknown"]

_FEWEST_QUARTERS = 6.0  # of bass notes that a part must sound with to be asked
_CAMP = 2  # parts that go with a whole bass as it is: one doubles it, or does so by chance
_CLEARLY = 1.2  # log odds by which a part must take one of the two sides


@record(kw_only=True)
class WhichIsOff:
    """The side that lies off: the ``bass``, the ``others``, or ``unknown``.

    ``asking``: indexes into song.parts of those that ask for the shift; ``with_bass``: of those
    that go with the bass as it is; ``stated``: the harmony is stated, and decides; ``agree``: the
    one that asks for the shift lies right beside those that go with the bass.
    """

    side: Side
    asking: tuple[int, ...]
    with_bass: tuple[int, ...]
    stated: bool = False
    agree: bool = False

    def divided(self, whole: bool) -> bool:
        """Whether other parts go with the bass as it is and as many do not, so that neither is off.

        Of a ``whole`` part one that does so by chance is not enough; a stretch says less.
        """
        if self.agree:
            return True
        return self.side == "unknown" and len(self.with_bass) >= (_CAMP if whole else 1)


def hear_which_is_off(
    bass: Notes,
    semitones: int,
    others: Sequence[int],
    notes_of: Callable[[int], Notes],
    grid: BarGrid,
    stated: bool,
) -> WhichIsOff:
    """Which side lies off, given the ``bass`` notes that lie ``semitones`` above the ``others``.

    ``notes_of`` gives a part's notes in order of time.
    """
    asking: list[int] = []
    with_bass: list[int] = []
    for part in others:
        lead = _asks(bass, notes_of(part), -semitones, grid)
        if lead >= _CLEARLY:
            asking.append(part)
        elif lead <= -_CLEARLY:
            with_bass.append(part)
    side: Side = "unknown"
    agree = False
    if stated or (len(asking) > 1 and not with_bass):
        side = "bass"
    elif len(asking) == 1 and with_bass:
        line = notes_of(asking[0])
        line = line.take((line.end > bass.start[0]) & (line.start < bass.end[-1]))
        agree = all(_asks(line, notes_of(p), semitones, grid) <= 0 for p in with_bass)
        side = "unknown" if agree else "others"
    return WhichIsOff(
        side=side, asking=tuple(asking), with_bass=tuple(with_bass), stated=stated, agree=agree
    )


def _asks(line: Notes, other: Notes, semitones: int, grid: BarGrid) -> float:
    """Log odds by which another part asks a line to move so far; 0 where they hardly meet."""
    around = hear_accompaniment(line, other, no_roots(), grid)
    silent = np.full(len(line), -1, dtype=np.int64)
    value, weight = fit_of_notes(line, around, silent, grid.division)
    if weight.sum() < _FEWEST_QUARTERS:
        return 0.0
    return lead_of(value.sum(axis=0) / weight.sum(), semitones)
