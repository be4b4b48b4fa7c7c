"""To which key does a note go that is moved to a tone, and what must make way there?"""

from __future__ import annotations

from basslint.fixes.base import repitch, retime
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.fixes.line import lines_of
from basslint.fixes.meant import root_under
from basslint.fixes.tried import fits_in
from basslint.hear.chart import Chart
from basslint.readings.against_harmony import clashes
from basslint.readings.notes import bass_spellings
from basslint.theory.acoustics import CARRIED_HZ
from basslint.theory.general_midi import HIGHEST_KEY
from basslint.theory.names import SPELLINGS, pitch_name
from basslint.theory.tuning import frequency

_TURN = 3  # semitones that keeping the line's direction is worth
_OUTSIDE = 5  # semitones that staying inside the part's own register is worth
_USED = 9  # semitones that a root the part already plays is worth: the loop shows what was meant


def to_tone(chart: Chart, row: int, tone: int, kind: FixKind) -> Fix | None:
    """Move a bass note to a pitch class, unless it would meet another part worse there.

    A note that clashes with its chord is brought home all the same, but not unasked.
    """
    root = root_under(chart, row)
    if not fits_in(chart, row, tone, root is not None and root[0] == tone):
        if not clashes(chart)[row]:
            return None
        kind = "by-ear"
    sounds, now = nearest(chart, row, tone), int(chart.sounding.written[row])
    sounding = chart.sounding
    shift = int(sounding.nearest[row]) - now
    pitch = sounds - shift  # the key at which that sounds there
    apart = _apart(chart, row, pitch)
    if pitch == now or apart is None or not 0 <= pitch <= HIGHEST_KEY:
        return None
    if sounding.assumed[row]:
        kind = "by-ear"  # where the note goes hangs on a bend range that nobody states
    spelled, octave = SPELLINGS[int(bass_spellings(chart)[row])], chart.facts.middle_c
    names = [pitch_name(number, spelled, octave) for number in (now, pitch, sounds)]
    title = f"Move {names[0]} to {names[1]}"
    if pitch != sounds:
        title += f", which sounds {names[2]}"
    return Fix(title, kind, (repitch(chart, int(chart.bass_rows[row]), pitch), *apart))


def nearest(chart: Chart, row: int, tone: int) -> int:
    """The sounding pitch of class ``tone`` to put in place of bass note ``row``.

    The nearest one, but rather one that the part already uses, that stays in its register, and that
    leaves the direction of the line as it is; none that few systems sound. All weights are musical
    judgement, no source.
    """
    now = int(chart.bass.pitch[row])
    line = lines_of(chart)[int(chart.bass.part[row])]
    place = int(line.rows.searchsorted(row))
    around = [int(line.pitch[i]) for i in (place - 1, place + 1) if 0 <= i < len(line.rows)]
    used = [p for p, count in line.used if count - (p == now) > 0]
    low, high = (used[0], used[-1]) if used else (now, now)

    def cost(pitch: int) -> tuple[int, int]:
        turned = sum([(now - a) * (pitch - a) < 0 for a in around])
        outside = not low <= pitch <= high
        way = abs(pitch - now) + _TURN * turned + _OUTSIDE * outside - _USED * (pitch in used)
        return way, pitch

    up = now + (tone - now) % 12
    near = [p for p in (up - 12, up, up + 12) if 0 <= p <= HIGHEST_KEY]
    carried = [p for p in near if frequency(p) >= CARRIED_HZ]
    return min(carried or near, key=cost)


def _apart(chart: Chart, row: int, pitch: int) -> list[Edit] | None:
    """Edits that keep the note from doubling its neighbours once it has their key ``pitch``.

    Notes that overlap, to slide, would otherwise sound one pitch twice. None where one of that
    pitch starts at the same moment: then nothing but taking one out would do.
    """
    bass, rows = chart.bass, chart.bass_rows
    line = lines_of(chart)[int(bass.part[row])]
    start, end = int(bass.start[row]), int(bass.end[row])
    first = min(line.reach.searchsorted(start, side="right"), line.start.searchsorted(start))
    near = slice(int(first), int(line.start.searchsorted(max(end, start + 1))))
    same = line.written[near] == pitch
    if not same.any():
        return []
    begin, until = line.start[near], line.end[near]
    if (same & (begin == start)).any():
        return None
    under = line.rows[near][same & (begin < start) & (until > start)]
    edits = [retime(chart, int(rows[n]), "end", start) for n in under.tolist()]
    over = begin[same & (begin > start) & (begin < end)]
    if len(over):
        edits.append(retime(chart, int(rows[row]), "end", int(over[0])))
    return edits
