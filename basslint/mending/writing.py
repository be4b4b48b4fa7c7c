"""Which fixes can be written together, and what does the file look like then?"""

from __future__ import annotations

from collections.abc import Sequence

from basslint.errors import MendError
from basslint.mending.locate import keys_of
from basslint.mending.patch import Clash, patched
from basslint.mending.turns import MOST_WRITES_IN_A_ROW, NOT_REACHED
from basslint.mending.units import Reasons, Unit, edits_of, reasons_of
from basslint.song.arrangement import Song
from basslint.util.records import record


@record(eq=False, kw_only=True)
class Written:
    """``units`` that were written into ``data``, and the ``song`` that this holds, out of a RIFF
    wrapper; ``refused``: why the findings of the others stand; ``writes``: how often the song may
    still be written."""

    units: list[Unit]
    data: bytes
    song: Song
    refused: Reasons
    writes: int


def write_together(
    data: bytes, song: Song, units: Sequence[Unit], writes: int, again: bool = False
) -> Written:
    """Write as many of ``units`` as can be written together, at most ``writes`` times.

    They are tried in ever smaller lots, those that clash last; ``again``, when they could be
    written before some were undone, those that clash now go with what was undone.
    """
    good: list[Unit] = []
    refused: Reasons = {}
    after = data, song
    lots = [list(units)]
    last = max(writes - MOST_WRITES_IN_A_ROW, 0)
    while lots:
        lot = lots.pop()
        if writes <= last:
            refused.update(reasons_of(lot, NOT_REACHED))
            continue
        writes -= 1
        try:
            edits = edits_of([*good, *lot])
            after = patched(data, song, edits) if edits else (data, song)
        except MendError as error:
            clashing, others = _parted(lot, error)
            if again or not others:
                refused.update(reasons_of(clashing, error.message))
            else:
                lots.append(clashing)
            lots += [others] if others else []
        else:
            good += lot
    return Written(units=good, data=after[0], song=after[1], refused=refused, writes=writes)


def _parted(lot: list[Unit], error: MendError) -> tuple[list[Unit], list[Unit]]:
    """A lot that cannot be written: those that clash and the others, or two halves."""
    keys = error.keys if isinstance(error, Clash) else frozenset()
    clashes = [bool(keys & keys_of(unit.fix.edits)) for unit in lot]
    if 0 < sum(clashes) < len(lot):
        parted: tuple[list[Unit], list[Unit]] = [], []
        for unit, clashing in zip(lot, clashes, strict=True):
            parted[0 if clashing else 1].append(unit)
        return parted
    middle = len(lot) // 2
    return lot[middle:], lot[:middle]
