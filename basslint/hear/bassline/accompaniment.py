"""What do the other pitched parts sound during each bass note?

Parts that are heard as basses do not count, so that a second bass never vouches for the first;
nor do drums. Octaves are folded: a bass note and a tune that share a pitch class agree. Chords that
the user states, or that are heard in audio, sound like parts do. Where their root alone is known,
their other tones sound as likely as chords at large have them, unless parts play there: then their
tones are the chord's. What a root alone makes likely may support a note; no note rubs with it. Nor
does one with tones that a chord heard in a loop should have and its sound lacks, the root save.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.bare import usual_tones
from basslint.hear.harmony.cover import longest_overlap, sounding_clock
from basslint.hear.harmony.sources import LOOP, Roots
from basslint.song.arrangement import Notes
from basslint.song.timing import BarGrid
from basslint.util.columns import differences, in_columns, order_of, rows_where
from basslint.util.records import record, replace

if TYPE_CHECKING:
    from basslint.hear.harmony.loops import Loops

Floats = NDArray[np.float64]

FARTHEST = 32.0  # quarters: eight bars of 4/4 away, a tone is as good as never heard here
_CARRIES = 0.5  # chance from which a pitch class sounds in a loop, rather than not
_SOUNDS = 0.3  # chance from which a tone of a chord counts as one: either third of a bare root
_PLAINLY = 0.9  # chance from which a tone of a bare root is taken to sound: its fifth alone has it
_FULL = 3  # pitch classes that parts sound in a bar: a chord, of which no more need be guessed
_HEARD = 0.02  # share of a bar: a tone that sounds for less is a grace note there


@record(eq=False, kw_only=True)
class Accompaniment:
    """What sounds against each of m bass notes.

    ``share`` float64 [m, 12]: share of the note during which other parts sound each pitch class.
    ``known`` float64 [m, 12]: the same without what only may sound, over a root stated alone.
    ``played`` bool [m]: parts sound three pitch classes or more in the note's bar, so that they say
    which chord stands on such a root.
    ``gap`` float64 [m]: quarters to the nearest time at which another part sounds the note's own
    pitch class, 0 where one does during the note, at most `FARTHEST`. ``tones`` int64 [m]: how many
    pitch classes other parts sound in the note's bar; ``voices`` float64 [m]: how many of them at a
    time, on average, while any sounds: about 1 for a tune alone. ``time`` float64 [12]: share of
    the other parts' sounding time that each pitch class has in the whole song, adding up to 1.
    """

    share: Floats
    known: Floats
    played: NDArray[np.bool_]
    gap: Floats
    tones: NDArray[np.int64]
    voices: Floats
    time: Floats

    def at(self, semitones: NDArray[np.integer] | int, pitch: NDArray[np.integer]) -> Floats:
        """Share of each note during which the pitch class ``semitones`` above it sounds, [m]."""
        return np.asarray(self.share[np.arange(len(pitch)), (pitch + semitones) % 12])

    def beside(self, pitch: NDArray[np.integer]) -> Floats:
        """Share of each note during which a semitone above it, or one below it, is known to sound,
        the larger one, [m]."""
        row = np.arange(len(pitch))
        up, down = self.known[row, (pitch + 1) % 12], self.known[row, (pitch - 1) % 12]
        return np.asarray(np.maximum(up, down))


def hear_accompaniment(
    bass: Notes, others: Notes, chords: Roots, grid: BarGrid, usual: Floats | None = None
) -> Accompaniment:
    """What ``others`` and ``chords`` sound during the notes of ``bass``; all in order of time.

    ``usual`` [n, 12]: the tones above chords of which the root alone is known, as the scale has
    them (`basslint.hear.harmony.bare.usual_tones`): with them is counted what the song has at all.
    """
    heard, full = _of_parts(bass, others, grid)
    row = longest_overlap(bass.start, bass.end, chords.start, chords.end)
    known = rows_where(np.concatenate((chords.root, [-1]))[row] >= 0)
    if not len(known):
        return heard
    chance = _tones(chords)
    under, likely = row[known], chance[row[known]]
    plain = np.where(chords.bare[under, None] & (likely < _PLAINLY), 0.0, likely)
    likely = np.where(heard.played[known, None], plain, likely)
    # of a loop's chord the root is claimed; what else sounds there is heard in the sound itself
    above_root = (np.arange(12)[None, :] - chords.root[under, None]) % 12
    plain = np.where((chords.source[under, None] == LOOP) & (above_root > 0), 0.0, plain)
    share, gap, tones = heard.share.copy(), heard.gap.copy(), heard.tones.copy()
    voices, sure = heard.voices.copy(), heard.share.copy()
    voices[known] = np.maximum(voices[known], likely.sum(axis=1))
    share[known] = np.maximum(share[known], likely)
    sure[known] = np.maximum(sure[known], plain)
    gap[known[share[known, bass.pitch[known] % 12] >= _SOUNDS]] = 0.0
    tones[known] = np.maximum(tones[known], (likely >= _SOUNDS).sum(axis=1))
    length = (chords.end - chords.start).astype(np.float64)
    in_song = chance if usual is None else _tones(chords, usual)
    # in bars in which parts play a chord over a bare root, they say what sounds
    in_song = (
        in_song * (1.0 - np.where(chords.bare, _share_of_bars(full, chords, grid), 0.0))[:, None]
    )
    time = heard.time * float(others.end.sum() - others.start.sum()) + length @ in_song
    return Accompaniment(
        share=share,
        known=sure,
        played=heard.played,
        gap=gap,
        tones=tones,
        voices=voices,
        time=time / time.sum(),
    )


def over_loops(around: Accompaniment, bass: Notes, loops: Loops) -> Accompaniment:
    """What sounds during the notes of ``bass`` with loops of sound beside it.

    A chance that a pitch class sounds supports a note as far as a part would that sounds it for
    that share of the note.
    """
    heard = loops.during(bass.start, bass.end)
    share, known = np.maximum(around.share, heard), np.maximum(around.known, heard)
    own = share[np.arange(len(share)), bass.pitch % 12]
    return replace(
        around,
        share=share,
        known=known,
        gap=np.where(own >= _CARRIES, 0.0, around.gap),
        tones=np.maximum(around.tones, (heard >= _SOUNDS).sum(axis=1)),
        voices=np.maximum(around.voices, heard.sum(axis=1)),
    )


def _tones(chords: Roots, usual: Floats | None = None) -> Floats:
    """Chance that each pitch class sounds in each chord, [n, 12]; a loop is heard less surely.

    ``usual``: as in `hear_accompaniment`.
    """
    by_root = usual_tones(chords.root) if usual is None else usual
    above = np.where(chords.bare[:, None], by_root, chords.tones)
    above[:, 0] = 1.0
    class_of = (np.arange(12)[None, :] - chords.root[:, None]) % 12
    chance = in_columns(above, class_of) * chords.certainty[:, None]
    return np.where(chords.root[:, None] >= 0, chance, 0.0)


def _share_of_bars(bars: NDArray[np.bool_], chords: Roots, grid: BarGrid) -> Floats:
    """Of the bars that each chord touches: the share of those marked in ``bars``, [n]."""
    before = np.append(0, bars.cumsum())
    first, after = grid.bar_of(chords.start), grid.bar_of(chords.end - 1) + 1
    return np.asarray((before[after] - before[first]) / (after - first))


def _of_parts(bass: Notes, others: Notes, grid: BarGrid) -> tuple[Accompaniment, NDArray[np.bool_]]:
    """What ``others`` sound during the notes of ``bass``, and which bars they play a chord in."""
    count = len(bass)
    if not len(others) or not count:
        nothing = Accompaniment(
            share=np.zeros((count, 12)),
            known=np.zeros((count, 12)),
            played=np.zeros(count, dtype=bool),
            gap=np.full(count, FARTHEST),
            tones=np.zeros(count, dtype=np.int64),
            voices=np.zeros(count),
            time=np.full(12, 1 / 12),
        )
        return nothing, np.zeros(grid.bars, dtype=bool)
    # a time line for each pitch class, one after the other: one search serves all of them
    line = int(max(others.end.max(), bass.end.max(), grid.start[-1])) + 1
    sounding = differences(sounding_clock(others.start, others.end)(grid.start))
    tone = (others.pitch % 12).astype(np.int64)
    order = order_of(tone)
    tone, start = tone[order], others.start[order]
    offset = tone * line
    start, end = offset + start, offset + np.maximum(others.end[order], start + 1)
    clock = sounding_clock(start, end)
    lines = np.arange(12)[:, None] * line
    until = np.maximum(bass.end, bass.start + 1)
    at = clock(lines + np.concatenate((bass.start, until, grid.start)))
    share = (at[:, count : 2 * count] - at[:, :count]) / (until - bass.start)
    lines_at, length = at[:, 2 * count :], differences(grid.start)
    bars = (lines_at[:, 1:] - lines_at[:, :-1]) / length
    time = np.bincount(tone, weights=end - start, minlength=12)
    voices = bars.sum(axis=0) * length / np.maximum(sounding, 1.0)
    bar = grid.bar_of(bass.start)
    in_bar = (bars > _HEARD).sum(axis=0)
    tones = in_bar[bar]
    heard = Accompaniment(
        share=share.T,
        known=share.T,
        played=tones >= _FULL,
        gap=np.minimum(_gap(bass, start, end, line) / grid.division, FARTHEST),
        tones=tones,
        voices=voices[bar],
        time=time / time.sum(),
    )
    return heard, in_bar >= _FULL


def _gap(bass: Notes, start: NDArray[np.int64], end: NDArray[np.int64], line: int) -> Floats:
    """Ticks from each bass note to the nearest sounding of its pitch class, [m], inf for none."""
    tone = bass.pitch.astype(np.int64) % 12
    reach = np.maximum.accumulate(end)
    after = np.searchsorted(start, tone * line + np.maximum(bass.end, bass.start + 1))
    last = np.maximum(after - 1, 0)
    following = np.minimum(after, len(start) - 1)
    behind = np.where(
        (after > 0) & (start[last] // line == tone), tone * line + bass.start - reach[last], np.inf
    )
    ahead = np.where(
        (after < len(start)) & (start[following] // line == tone),
        start[following] - tone * line - bass.end,
        np.inf,
    )
    return np.asarray(np.maximum(np.minimum(behind, ahead), 0.0))
