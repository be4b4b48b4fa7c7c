"""How is a note brought back into the harmony: to its root, to what sounds, into the scale?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer
from basslint.fixes.edits import Fix
from basslint.fixes.loop import elsewhere
from basslint.fixes.meant import as_doubled, meant_in_harmony, meant_under, root_under, stood_on
from basslint.fixes.moved import to_tone
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.readings.against_harmony import by_step, clashes, in_scale
from basslint.readings.against_parts import rub_row
from basslint.readings.copies import copies
from basslint.readings.notes import length
from basslint.readings.recurrence import copies_alike
from basslint.readings.slip import slip_chance

_HELD = 0.5  # beats: what is mended unasked is held, an eighth at least
_PASSES = 1.0  # beats: what is no longer, and a step from its neighbour, may be an escape note
_CLOSELY = 0.8  # share of the notes around that come back in a loop


@fixer(
    "note-to-root",
    of="bass-note",
    does="moves the note to the root of its chord, or to what its loop plays there under it",
)
def note_to_root(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note to the root of its chord, or to what its loop plays there.

    Safe for a lone held note that clashes under a sure root, if no other part sounds it.
    The nearest root, register and direction kept. Where a part doubles the line, the note goes
    where its double is, and where both are off, by step to a tone of the chord. Where the loop
    comes round to the same root and plays a note of another pitch class there, in place of the
    root, that one is meant: keys that leave the root to the bass are heard on another one. What
    returns in other bars or sounds in two parts, and a note of a scale that the user stated, may be
    meant so. None for what returns in more bars than the page's ``returns``, save a clash of
    ``long_beats``.
    """
    root = root_under(chart, row)
    if root is None:
        return None
    held, clash = float(length(chart)[row]), bool(clashes(chart)[row])
    if copies(chart)[row] > parameters.get("returns", np.inf) and not (
        clash and held > parameters.get("long_beats", 0.0)
    ):
        return None
    slip = not _is_layered(chart, row) and copies(chart)[row] < 2 and held >= _HELD
    slip &= held > _PASSES or not by_step(chart)[row]
    slip &= not (chart.keys.stated and in_scale(chart)[row])
    sure = root[1] >= CERTAIN and clash and bool(slip) and not chart.doubling.sounded[row]
    return to_tone(chart, row, meant_under(chart, row, root[0]), "safe" if sure else "by-ear")


def _is_layered(chart: Chart, row: int) -> bool:
    """Does the bass strike the pitch class of a note with it a second time?"""
    bass = chart.bass
    first, after = (
        int(bass.start.searchsorted(bass.start[row], side)) for side in ("left", "right")
    )
    tones = bass.pitch[first:after] % 12
    return len(tones) > 1 and int((tones == tones[row - first]).sum()) > 1


@fixer(
    "note-to-harmony",
    of="bass-note",
    does="moves the note to what its loop plays there, to the tone beside it that others play, or "
    "to the root of its chord",
)
def note_to_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note to what its loop plays there, to the tone beside it that sounds, or to its root.

    Safe for a lone held note, surely a slip, that the loop or a sounding tone beside it mends.
    By ear where a figure returns, where any other part plays the pitch class or another bass layer
    has it, for a short note that steps on, and where the user's stated scale has the note.
    """
    tone = meant_in_harmony(chart, row, parameters.get("habit", np.inf))
    if tone is None:
        return None
    own = int(chart.bass.pitch[row]) % 12
    held = float(length(chart)[row])
    slip = not _is_layered(chart, row) and held >= _HELD and copies_alike(chart)[row] < 1
    slip &= bool(chart.accompaniment.share[row, own] <= 0)
    slip &= held > _PASSES or not by_step(chart)[row]
    slip &= not (chart.keys.stated and in_scale(chart)[row])
    slip &= slip_chance(chart)[row] >= parameters.get("sure", 1.0)
    slip &= (tone - own) % 12 in (1, 11)
    return to_tone(chart, row, tone, "safe" if slip else "by-ear")


@fixer(
    "note-to-scale",
    of="bass-note",
    does="moves the note to what its loop or line plays there, else to the nearest of the scale",
)
def note_to_scale(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note into the scale: to what its loop or line plays there, else the nearest, by ear.

    A loop that comes round closely shows what was meant; else the tone that the line
    stands on around the note; else a loop that comes round loosely. Of two notes of the scale that
    are equally near, the lower one.
    """
    key = int(chart.key_at(chart.bass.start[row : row + 1])[0])
    if key < 0:
        return None
    now, pitch = int(chart.bass.pitch[row]), chart.bass.pitch
    scale = np.flatnonzero(chart.keys.scale[key]).tolist()
    doubled = as_doubled(chart, row)
    if doubled in scale:
        return to_tone(chart, row, doubled, "by-ear")
    shown = (elsewhere(chart, row, _CLOSELY), stood_on(chart, row), elsewhere(chart, row))
    for again in shown:
        if again is not None and int(pitch[again]) % 12 in scale:
            return to_tone(chart, row, int(pitch[again]) % 12, "by-ear")
    away = {tone: min((tone - now) % 12, (now - tone) % 12) for tone in scale}
    tone = min(scale, key=lambda t: (away[t], (t - now) % 12 <= 6))
    return to_tone(chart, row, tone, "by-ear")


@fixer(
    "root-without-rub",
    of="bass-note",
    does="moves the note to the root of its chord, where that does not rub with the held note",
)
def root_without_rub(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note to the root of its chord, by ear.

    None where the root itself rubs: then the held note may be the wrong one.
    """
    root, other = root_under(chart, row), int(rub_row(chart)[row])
    if root is None or other < 0:
        return None
    if (int(chart.notes.pitch[other]) - root[0]) % 12 in (1, 11):
        return None
    return to_tone(chart, row, root[0], "by-ear")
