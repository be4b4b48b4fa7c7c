"""Where in a song do its loops play, and which harmony do they bring?

A loop is heard once, at its own tempo, and its bars are laid onto the song's: again and again until
the stretch in which it plays is filled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from basslint.audio.answers import loop_roots
from basslint.audio.bars import Stated
from basslint.audio.glides import Glides
from basslint.audio.load import sound_length
from basslint.audio.loop import TICKS, HeardLoop, hear_loop
from basslint.audio.remarks import loop_remarks
from basslint.audio.roots import mix_readings
from basslint.audio.tuning import certainty
from basslint.hear.facts import StatedLoop
from basslint.hear.harmony.loops import Loops, Soft, Turns
from basslint.hear.harmony.sources import Roots, joined, laid_over, no_roots
from basslint.song.arrangement import Song
from basslint.util.records import replace

_WHOLE = 0.02  # of a bar by which a length may miss whole bars and still be cut to them
_KEPT = 8  # loops that stay heard: more than one song has, and a mended copy asks for them again
_TEMPO_CLOSE = 0.002  # of the tempo within which a loop is said to have the song's


def place_loops(song: Song, loops: Iterable[StatedLoop], longest_s: float) -> Loops:
    """Hear the loops of a song and lay them into its bars; what is stated later lies on top.

    Raises `SoundError` for a file that cannot be heard.
    """
    roots, rows, remarks, sounds, turns = no_roots(), [], [], [], []
    for loop in loops:
        stretches = tuple(_stretches(song, loop))
        if not stretches:
            remarks.append(_unplayed(song, loop))
            continue
        heard = _heard_in(song, loop, longest_s)
        shift, off = _tuned_to(heard, loop)
        own = _moved(_kept(heard), shift)
        for first, last in stretches:
            placed = _repeated(own, heard, song, first, last)
            roots = laid_over(placed, roots)
            if heard.left is None:
                sounds.append(_sounding(heard, shift, song, first, last))
            turns.append(_turns(heard, loop, song, first, last))
            ticks = int(song.grid.start[first - 1]), int(song.grid.start[last])
            rows.append((*ticks, off, _tuned(heard), Path(loop.file).name))
        remarks += _remarks(song, loop, heard)
    start, end, cents, sure, names = zip(*rows, strict=True) if rows else ((),) * 5
    return Loops(
        roots=joined(roots),
        sounds=tuple(sounds),
        turns=tuple(turns),
        start=np.array(start, dtype=np.int64),
        end=np.array(end, dtype=np.int64),
        cents=np.array(cents, dtype=np.float64),
        certainty=np.array(sure, dtype=np.float64),
        name=tuple(names),
        remarks=tuple(dict.fromkeys(remarks)),  # a file may be stated for several stretches
    )


def _tuned_to(heard: HeardLoop, loop: StatedLoop) -> tuple[int, float]:
    """Semitones from the notes that were heard to the nearest ones of what the sampler plays, and
    the cents by which it stands above those: both together, so that a loop 45 cents sharp that is
    played 60 down is no semitone lower.
    """
    cents = heard.tuning.cents + 100.0 * loop.semitones + loop.cents
    shift = round(cents / 100.0)
    return shift, cents - 100.0 * shift


def _speed(loop: StatedLoop) -> float:
    """How much faster than its file a loop is played, as high as it is stated."""
    return float(2.0 ** (loop.semitones / 12.0 + loop.cents / 1200.0))


def _tuned(heard: HeardLoop) -> float:
    """Certainty of the tuning, 0 where no notes are heard."""
    return certainty(heard.tuning) * float(heard.tonality.notes.mean())


def _stretches(song: Song, loop: StatedLoop) -> Iterator[tuple[int, int]]:
    """First and last bar of each stretch, from 1, inside the song."""
    for first, last in loop.at or ((1, song.grid.bars),):
        if first <= song.grid.bars:
            yield first, min(last, song.grid.bars)


def _heard_in(song: Song, loop: StatedLoop, longest_s: float) -> HeardLoop:
    """A loop heard at the tempo that it has in its file."""
    bar = min(loop.at[0][0] if loop.at else 1, song.grid.bars) - 1
    meter = int(song.grid.numerator[bar]), int(song.grid.denominator[bar])
    bpm = song.tempo.bpm_at(int(song.grid.start[bar]))
    quarters = meter[0] * 4.0 / meter[1]
    length = sound_length(loop.file)
    # a sampler that plays a loop higher plays it faster, or keeps its length: what makes whole bars
    tempi = [bpm, bpm / _speed(loop)]
    if loop.bars is not None and loop.begins_s is None:
        tempi.append(60.0 * loop.bars * quarters / length)

    def misses(tempo: float) -> float:
        bars = length * tempo / 60.0 / quarters
        return abs(bars - (loop.bars or max(round(bars), 1)))

    best = min(tempi, key=lambda tempo: max(misses(tempo), _WHOLE))
    stated = Stated(
        bpm=best,
        bars=loop.bars,
        begins_s=loop.begins_s,
        begins_beats=loop.begins_beats,
        meter=meter,
    )
    state = Path(loop.file).stat()
    return _heard(loop.file, stated, longest_s, state.st_mtime_ns, state.st_size)


@lru_cache(_KEPT)
def _heard(file: str, stated: Stated, longest_s: float, _time: int, _size: int) -> HeardLoop:
    """Hear a file once as long as it stays as it is."""
    return hear_loop(file, stated, longest_s)


def _kept(heard: HeardLoop) -> Roots:
    """The roots of a loop, and the stretches in which it glides; what is no harmony is left out, so
    that other sources may speak there.
    """
    roots = loop_roots(heard)
    edges = heard.segments.edges
    moving = np.zeros(len(roots), dtype=bool)
    if heard.fits:
        for begin, end in zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True):
            moving |= (roots.start < edges[end]) & (roots.end > edges[begin])
    return roots.take(np.flatnonzero((roots.root >= 0) | moving))


def _moved(roots: Roots, semitones: int) -> Roots:
    """The roots as they sound so many semitones higher."""
    rooted = roots.root >= 0
    root = np.where(rooted, (roots.root + semitones) % 12, -1).astype(np.int8)
    return replace(roots, root=root, fit=np.roll(roots.fit, semitones, axis=1))


def _repeated(roots: Roots, heard: HeardLoop, song: Song, first: int, last: int) -> Roots:
    """The roots laid into bars ``first`` to ``last`` again and again, in the song's ticks."""
    begins = song.grid.start[np.arange(first - 1, last, heard.bars.bars)]
    end = int(song.grid.start[last])
    row = np.tile(np.arange(len(roots)), len(begins))
    at = np.repeat(begins, len(roots))
    scale = song.division / TICKS

    def ticks(column: NDArray[np.int64]) -> NDArray[np.int64]:
        return np.asarray(np.minimum(at + np.rint(column[row] * scale).astype(np.int64), end))

    placed = replace(
        roots.take(row), start=ticks(roots.start), end=ticks(roots.end), since=ticks(roots.since)
    )
    # a bar of another meter cuts a turn of the loop short
    following = np.append(begins[1:], end)
    until = np.minimum(placed.end, np.repeat(following, len(roots)))
    placed = replace(placed, end=until)
    return placed.take(np.flatnonzero(placed.end > placed.start))


def _turns(heard: HeardLoop, loop: StatedLoop, song: Song, first: int, last: int) -> Turns:
    """How a loop is played in bars ``first`` to ``last``."""
    begins = song.grid.start[np.arange(first - 1, last, heard.bars.bars)]
    before = max(heard.bars.begins_s, 0.0)
    return Turns(
        file=loop.file,
        turned_s=before if heard.bars.cut else 0.0,
        begins_s=0.0 if heard.bars.cut else before,
        speed=_speed(loop),
        start=begins,
        end=np.append(begins[1:], song.grid.start[last]),
    )


def _sounding(heard: HeardLoop, semitones: int, song: Song, first: int, last: int) -> Soft:
    """What a loop sounds in bars ``first`` to ``last``, again and again, in the song's ticks."""
    begins = song.grid.start[np.arange(first - 1, last, heard.bars.bars)]
    following = np.append(begins[1:], song.grid.start[last])
    edges = np.rint(heard.segments.edges * (song.division / TICKS)).astype(np.int64)
    start = (begins[:, None] + edges[:-1]).ravel()
    end = np.minimum(begins[:, None] + edges[1:], following[:, None]).ravel()
    sounding = mix_readings(heard.segments.sounding, heard.tuning)
    chance = _both_ends(sounding * heard.tonality.weight[:, None], heard.glides)
    turns = np.tile(np.roll(chance, semitones, axis=1), (len(begins), 1))
    keep = np.flatnonzero(end > start)
    return Soft(start[keep], end[keep], turns[keep])


def _both_ends(chance: NDArray[np.float64], glides: Glides) -> NDArray[np.float64]:
    """``chance`` [n, 12] where in each glide the chords at both of its ends sound.

    What is heard on the way lies between them, and a bass on either end is right.
    """
    result, n = chance.copy(), len(chance)
    for begin, end in zip(glides.start.tolist(), glides.end.tolist(), strict=True):
        result[begin:end] = np.maximum(chance[begin - 1], chance[end % n])
    return result


def _unplayed(song: Song, loop: StatedLoop) -> str:
    first = min(begin for begin, _ in loop.at)
    bars = f"{song.grid.bars} bar{'s' if song.grid.bars != 1 else ''}"
    return (
        f"{Path(loop.file).name} plays nowhere: `at` begins with bar {first}, the song has {bars}."
    )


def _remarks(song: Song, loop: StatedLoop, heard: HeardLoop) -> list[str]:
    """How a loop was taken, and what was wrong with it."""
    name, bars = Path(loop.file).name, heard.bars
    if heard.left is not None:
        return [f"{name}: {remark}" for remark in loop_remarks(heard, in_song=True)]
    count = f"{bars.bars} bar{'s' if bars.bars != 1 else ''}"
    said = []
    if loop.bars is None:
        said.append(f"{name} is taken as {count}, by its length and the song's tempo.")
    song_bpm = song.tempo.bpm_at(int(song.grid.start[0]))
    played_bpm = bars.bpm * _speed(loop)
    if abs(played_bpm / song_bpm - 1.0) > _TEMPO_CLOSE:
        said.append(
            f"{name} plays at {played_bpm:.1f} bpm, the song at {song_bpm:.1f}: its bars are taken "
            "as the song's, and heard unstretched."
        )
    return said + [f"{name}: {remark}" for remark in loop_remarks(heard, in_song=True)]
