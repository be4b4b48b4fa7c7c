"""Which sounds, when, and how loud? A stretch of a song as one mono signal."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from basslint.audition.guide import USUAL_OCTAVE, held_roots
from basslint.audition.loops import loop_sounds
from basslint.audition.loudness import limited, loudness, true_peak
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
    mix = _mixed(chart, wish)
    if like is None:
        return _at_peak(mix)
    model = _at_peak(_mixed(like, replace(wish, bars=_bars(like, wish))))
    return matched(mix, model, RATE, PEAK)


def matched(mix: Samples, model: Samples, rate: int, ceiling: float) -> Samples:
    """``mix`` at the loudness of ``model``, its true peak not above ``ceiling`` (as a share of full
    scale); at the ceiling where one of the two is silent."""
    aim, found = loudness(model, rate), loudness(mix, rate)
    if not np.isfinite(aim) or not np.isfinite(found):
        high = true_peak(mix)
        return mix * (ceiling / high) if high > 0 else mix
    gain, result = 1.0, mix
    for _ in range(_ROUNDS):
        gain *= 10 ** ((aim - found) / 20)
        result = limited(mix * gain, ceiling, rate)
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
    notes, roles = chart.song.notes, chart.parts.role
    sounding = (notes.start < last) & (notes.end > first)
    for row in np.flatnonzero(sounding).tolist():
        role = roles[int(notes.part[row])]
        level = float(notes.velocity[row]) / 127
        start = seconds(int(notes.start[row]))
        pitch = int(notes.pitch[row])
        if role == "drums":
            if notes.start[row] >= first:  # a hit rings for itself, however long its note is
                hit = DRUM_LEVEL * level * drum_hit(pitch, RATE)
                at = round((start - zero) * RATE)
                yield at, hit[: round((stop + TAIL_S - zero) * RATE) - at]
        elif role != "bass":
            end = min(seconds(int(notes.end[row])), stop)
            yield from _held_tone(start, end, pitch, CHORD_LEVEL * level, zero)


def _bass(chart: Chart, wish: Wish, first: int, last: int) -> Iterator[tuple[int, Samples]]:
    """The bass, by its own sound where that is stated and known."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    t60 = chart.facts.decay_s or GUESSED_T60_S
    voice = one_shot_voice(chart.facts)
    for tone in bass_tones(chart, first, last):
        held = replace(tone, end=min(tone.end, stop), pitches=tone.pitches + 12.0 * wish.octaves_up)
        end, sampled = held.end + RELEASE_S, voice is not None and not wish.small_speakers
        if not sampled:
            end = min(end, held.start + _GONE_T60 * t60)
        for at, time in _moments(held.start, end, zero):
            if voice is not None and sampled:
                yield at, voice.tone(held, time)
            else:
                yield at, bass_tone(held, time, t60, wish.small_speakers)


def _roots(chart: Chart, first: int, last: int) -> Iterator[tuple[int, Samples]]:
    """The roots that were heard, two octaves above the register of the bass."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    for start, end, pitch, _ in held_roots(chart, USUAL_OCTAVE + ROOTS_UP):
        if start < last and end > first:
            yield from _held_tone(seconds(start), min(seconds(end), stop), pitch, ROOT_LEVEL, zero)


def _held_tone(
    start: float, end: float, pitch: int, level: float, zero: float
) -> Iterator[tuple[int, Samples]]:
    """A tone of harmony by pieces, each with the place of its first sample."""
    knots = np.array([start]), np.array([pitch * 1.0])
    tone = Tone(start=start, end=end, level=level, times=knots[0], pitches=knots[1])
    gone = start + _GONE_T60 * CHORD_T60_S
    for at, time in _moments(start, min(end + CHORD_RELEASE_S, gone), zero):
        yield at, chord_tone(tone, time, RATE)


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
