"""Which sounds, when, and how loud? A stretch of a song as one mono signal."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from basslint.audition.guide import USUAL_OCTAVE, held_roots
from basslint.audition.loops import loop_sounds
from basslint.audition.loudness import limit, loudness, true_peak
from basslint.audition.repeated import Struck, Voice, repeated
from basslint.audition.sampled import one_shot_voice
from basslint.audition.tones import bass_tones
from basslint.audition.voices import (
    CHORD_RELEASE_S,
    CHORD_T60_S,
    RELEASE_S,
    Samples,
    Tone,
    bass_tone,
    chord_tone,
    drum_hit,
    raised_cosine,
    straight,
)
from basslint.errors import SoundError, UsageError
from basslint.hear.chart import Chart
from basslint.util.records import record, replace

RATE = 44_100
PEAK = 10 ** (-12 / 20)  # −12 dBFS: a file that is opened must not start loud
GUESSED_T60_S = 1.5  # where no decay is stated, to have a sound at all; command and page say so
LONGEST_S = 7 * 60  # of an audition: longer ones would take more than 500 MB
MOST_SOUNDING_S = 6_000.0  # seconds of all its notes together: a hundred minutes at one voice
TAIL_S = 0.5  # in which the last notes die away
EDGE_S = 0.005  # fade of a stretch that begins or ends in the middle of a note
CHORD_LEVEL, DRUM_LEVEL = 0.16, 0.5  # of full scale at velocity 127
ROOT_LEVEL = 0.35  # of a root that is played to be checked: it stands before the harmony
ROOTS_UP = 2  # octaves above the bass's: where the ear compares pitch best (common practice)
_PIECE = 1 << 14  # samples of a tone that are made at once: they stay in the processor's cache
_GONE_T60 = 3.0  # by then a tone is 180 dB down, below the last of the 24 bits that are written
_ROUNDS, _NEAR_LU = 4, 0.02  # a limiter takes loudness away: it is given back a few times
_CHORDS = Voice(
    sound=lambda tone, time: chord_tone(tone, time, RATE),
    release_s=CHORD_RELEASE_S,
    curve=straight,
    gone_s=_GONE_T60 * CHORD_T60_S,
)


@record
class Wish:
    """What to render: bars (first, last) from 1 or None for all; ``octaves_up`` of the bass;
    ``solo``: the bass alone; ``small_speakers``: with harmonics that those can carry; ``roots``:
    the heard roots in place of the bass, two octaves up, to be checked by ear."""

    bars: tuple[int, int] | None = None
    octaves_up: int = 0
    solo: bool = False
    small_speakers: bool = False
    roots: bool = False


def render(chart: Chart, wish: Wish, like: Chart | None = None) -> Samples:
    """The stretch as samples in −1..1, mono at `RATE`, true peak at most at −12 dBFS.

    ``like``: the chart that it is compared with; the stretch is made as loud as that one is, so
    that what differs is what was changed and not the level.
    """
    if like is None:
        return _at_peak(_mixed(chart, wish))
    # measured before the other one is made: a long stretch takes 150 MB
    aim = loudness(_at_peak(_mixed(like, replace(wish, bars=_bars(like, wish)))), RATE)
    return matched(_mixed(chart, wish), aim, RATE, PEAK)


def matched(mix: Samples, aim: float, rate: int, ceiling: float) -> Samples:
    """``mix`` at the loudness ``aim`` (LUFS), its true peak not above ``ceiling`` (as a share of
    full scale); at the ceiling where either is silent."""
    found = loudness(mix, rate)
    if not np.isfinite(aim) or not np.isfinite(found):
        high = true_peak(mix)
        return mix * (ceiling / high) if high > 0 else mix
    gain, result = 1.0, np.empty(len(mix))
    for _ in range(_ROUNDS):
        gain *= 10 ** ((aim - found) / 20)
        np.multiply(mix, gain, out=result)
        limit(result, ceiling, rate)
        found = loudness(result, rate)
        if abs(aim - found) < _NEAR_LU:
            break
    return result


def wav(samples: Samples) -> bytes:
    """Samples as the bytes of a 24-bit WAV. Raises `SoundError`."""
    import io

    import soundfile

    buffer = io.BytesIO()
    try:
        soundfile.write(buffer, samples, RATE, format="WAV", subtype="PCM_24")
    except (RuntimeError, OSError) as error:
        raise SoundError(f"The sound cannot be written: {error}.", "Take fewer bars.") from None
    return buffer.getvalue()


def _at_peak(mix: Samples) -> Samples:
    high = true_peak(mix)
    if high > 0:
        mix *= PEAK / high  # in place: a long stretch is in memory once
    return mix


def _bars(chart: Chart, wish: Wish) -> tuple[int, int] | None:
    """The bars wished for as far as a chart has them: a fix may lengthen a song."""
    if wish.bars is None:
        return None
    first, last = wish.bars
    return min(first, chart.song.grid.bars), min(last, chart.song.grid.bars)


def _mixed(chart: Chart, wish: Wish) -> Samples:
    """The sum of all voices, at no particular level."""
    if wish.solo and not wish.roots and not chart.parts.bass:
        raise UsageError(
            "No bass part was found, so there is nothing to hear alone.",
            "Name the part with --bass, or leave --solo away.",
        )
    first, last = _span(chart, wish)
    seconds = chart.song.tempo.seconds
    begin, end = seconds(first), seconds(last)
    if end - begin > LONGEST_S:
        raise UsageError(
            f"These bars last {end - begin:.0f} s; an audition lasts up to {LONGEST_S} s.",
            "Ask for fewer with --bars.",
        )
    _bound_voices(chart, first, last)
    mix = np.zeros(round((end - begin + TAIL_S) * RATE))
    for start, samples in _sounds(chart, wish, first, last):
        mix[start : start + len(samples)] += samples
    fade = round(EDGE_S * RATE)
    mix[:fade] *= np.arange(fade) / fade
    return mix


def _bound_voices(chart: Chart, first: int, last: int) -> None:
    """Refuse a stretch with so much in it that it would take minutes. Raises `UsageError`."""
    notes, seconds = chart.song.notes, chart.song.tempo.seconds
    inside = (notes.start < last) & (notes.end > first)
    begin, end = np.maximum(notes.start[inside], first), np.minimum(notes.end[inside], last)
    sounding = float((seconds(end) - seconds(begin)).sum())
    if sounding > MOST_SOUNDING_S:
        raise UsageError(
            f"The notes of these bars sound for {sounding:,.0f} s together; an audition takes up "
            f"to {MOST_SOUNDING_S:,.0f} s.",
            "Ask for fewer bars with --bars, or end notes that are held too long.",
        )


def _span(chart: Chart, wish: Wish) -> tuple[int, int]:
    grid = chart.song.grid
    if wish.bars is None:
        return 0, int(grid.start[-1])
    first, last = wish.bars
    if not 1 <= first <= last <= grid.bars:
        raise UsageError(
            f"--bars: there are no bars {first}-{last}.", f"The song has bars 1-{grid.bars}."
        )
    return int(grid.start[first - 1]), int(grid.start[last])


def _sounds(chart: Chart, wish: Wish, first: int, last: int) -> Iterator[tuple[int, Samples]]:
    """All that sounds in the stretch, also what is held from before: the place of its first sample
    there, and its samples."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    if wish.roots:
        yield from _roots(chart, first, last)
    else:
        yield from _bass(chart, wish, first, last)
    if wish.solo:
        return
    yield from loop_sounds(chart, first, last, RATE)
    notes = chart.song.notes
    rows = np.flatnonzero((notes.start < last) & (notes.end > first))
    part, level = notes.part[rows], notes.velocity[rows] / 127
    start, end = seconds(notes.start[rows]), np.minimum(seconds(notes.end[rows]), stop)
    pitch = notes.pitch[rows].astype(np.float64)
    drums, bass = (_plays(chart, role)[part] for role in ("drums", "bass"))
    hits = drums & (notes.start[rows] >= first)  # a hit rings for itself, however long its note is
    columns = (np.rint((start[hits] - zero) * RATE).astype(np.int64), pitch[hits], level[hits])
    for at, key, loud in zip(*(c.tolist() for c in columns), strict=True):
        hit = DRUM_LEVEL * loud * drum_hit(int(key), RATE)
        yield at, hit[: round((stop + TAIL_S - zero) * RATE) - at]
    held = ~drums & ~bass
    level = CHORD_LEVEL * level[held]
    chords = Struck(start=start[held], end=end[held], level=level, pitch=pitch[held])
    yield from repeated(_CHORDS, chords, zero, RATE)


def _plays(chart: Chart, role: str) -> NDArray[np.bool_]:
    """Whether each part plays a role."""
    return np.array([each == role for each in chart.parts.role], dtype=bool)


def _bass(chart: Chart, wish: Wish, first: int, last: int) -> Iterator[tuple[int, Samples]]:
    """The bass, by its own sound where that is stated and known."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    t60 = chart.facts.decay_s or GUESSED_T60_S
    one_shot = None if wish.small_speakers else one_shot_voice(chart.facts)
    still: list[Tone] = []
    for tone in bass_tones(chart, first, last):
        held = replace(tone, end=min(tone.end, stop), pitches=tone.pitches + 12.0 * wish.octaves_up)
        let_go = held.end + RELEASE_S
        if one_shot is not None:
            for at, time in _moments(held.start, let_go, zero):
                yield at, one_shot.tone(held, time)
        elif (held.pitches == held.pitches[0]).all():
            still.append(held)
        else:
            for at, time in _moments(held.start, min(let_go, held.start + _GONE_T60 * t60), zero):
                yield at, bass_tone(held, time, t60, wish.small_speakers)
    columns = np.array([(t.start, t.end, t.level, float(t.pitches[0])) for t in still])
    start, end, level, pitch = columns.reshape(-1, 4).T
    voice = Voice(
        sound=lambda tone, time: bass_tone(tone, time, t60, wish.small_speakers),
        release_s=RELEASE_S,
        curve=raised_cosine,
        gone_s=_GONE_T60 * t60,
    )
    yield from repeated(voice, Struck(start=start, end=end, level=level, pitch=pitch), zero, RATE)


def _roots(chart: Chart, first: int, last: int) -> Iterator[tuple[int, Samples]]:
    """The roots that were heard, two octaves above the register of the bass."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    held = [
        r[:3] for r in held_roots(chart, USUAL_OCTAVE + ROOTS_UP) if r[0] < last and r[1] > first
    ]
    start, end, pitch = np.array(held, dtype=np.int64).reshape(-1, 3).T
    tones = Struck(
        start=seconds(start),
        end=np.minimum(seconds(end), stop),
        level=np.full(len(start), ROOT_LEVEL),
        pitch=pitch.astype(np.float64),
    )
    yield from repeated(_CHORDS, tones, zero, RATE)


def _moments(start: float, end: float, zero: float) -> Iterator[tuple[int, Samples]]:
    """The samples from ``start`` to ``end`` in a stretch that begins at ``zero``, by pieces: the
    place of the first one of each, and when they are, in seconds of the song."""
    first = max(int(np.ceil((start - zero) * RATE)), 0)
    last = int(np.floor((end - zero) * RATE))
    for at in range(first, last + 1, _PIECE):
        time = np.arange(at, min(at + _PIECE, last + 1), dtype=np.float64)
        time /= RATE
        time += zero
        yield at, time
