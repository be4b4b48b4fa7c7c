"""How loud is what sounds together? A stretch of a song as one mono signal."""

from __future__ import annotations

import numpy as np

from basslint.audition.loudness import SILENCE, integrated, powers, powers_again
from basslint.audition.peaks import bounds, limit, true_peak
from basslint.audition.sounds import RATE, Sounds, Wish, changes, samples_of, sounds_of
from basslint.audition.voices import Samples
from basslint.errors import SoundError, UsageError
from basslint.hear.chart import Chart
from basslint.util.records import replace

PEAK = 10 ** (-12 / 20)  # −12 dBFS: a file that is opened must not start loud
LONGEST_S = 7 * 60  # of an audition: longer ones would take more than 500 MB
MOST_SOUNDING_S = 6_000.0  # seconds of all its notes together: a hundred minutes at one voice
TAIL_S = 0.5  # in which the last notes die away
EDGE_S = 0.005  # fade of a stretch that begins or ends in the middle of a note
_ROUNDS, _NEAR_LU = 4, 0.02  # a limiter takes loudness away: it is given back a few times


def render(chart: Chart, wish: Wish, like: Chart | None = None) -> Samples:
    """The stretch as samples in −1..1, mono at `RATE`, true peak at most at −12 dBFS.

    ``like``: the chart that it is compared with; the stretch is made as loud as that one is, so
    that what differs is what was changed and not the level.
    """
    if like is None:
        mix = _mixed(chart, wish)
        return _scaled(mix, _to_peak(mix))
    before, after = _wished(like, replace(wish, bars=_bars(like, wish))), _wished(chart, wish)
    mix = _sum(before)
    power = powers(mix, RATE)
    aim = integrated(power * _to_peak(mix) ** 2)
    differ = changes(before, after)
    if differ is None:
        del mix  # a long stretch takes 150 MB
        mix = _sum(after)
        power = powers(mix, RATE)
    else:  # most of it is the same: it is made and weighed once
        places = _add(mix, differ)
        power = powers_again(power, mix, RATE, places)
    return _matched(mix, power, aim)


def _to_peak(mix: Samples) -> float:
    """The gain that brings a signal's true peak to `PEAK`."""
    high = true_peak(mix)
    return PEAK / high if high > 0 else 1.0


def _scaled(mix: Samples, gain: float) -> Samples:
    mix *= gain  # in place: a long stretch is in memory once
    return mix


def _matched(mix: Samples, power: Samples, aim: float) -> Samples:
    """``mix``, which has ``power``, at the loudness ``aim`` (LUFS), its true peak at most at
    `PEAK`; at that peak where either is silent. In place."""
    found = integrated(power)
    if SILENCE in (aim, found):
        return _scaled(mix, _to_peak(mix))
    gain, most = 1.0, bounds(mix)[0]
    limited: list[tuple[int, Samples]] = []
    for _ in range(_ROUNDS):
        gain *= 10 ** ((aim - found) / 20)
        for begin, piece in limited:
            mix[begin : begin + len(piece)] = piece
        limited = limit(mix, PEAK / gain, RATE, most)
        places = [(begin, len(piece)) for begin, piece in limited]
        found = integrated(powers_again(power, mix, RATE, places) * gain**2)
        if abs(aim - found) < _NEAR_LU:
            break
    return _scaled(mix, gain)


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


def _bars(chart: Chart, wish: Wish) -> tuple[int, int] | None:
    """The bars wished for as far as a chart has them: a fix may lengthen a song."""
    if wish.bars is None:
        return None
    first, last = wish.bars
    return min(first, chart.song.grid.bars), min(last, chart.song.grid.bars)


def _mixed(chart: Chart, wish: Wish) -> Samples:
    """The sum of all sounds, at no particular level."""
    return _sum(_wished(chart, wish))


def _wished(chart: Chart, wish: Wish) -> Sounds:
    """The sounds that are asked for. Raises `UsageError` where they are none, or too many."""
    if wish.solo and not wish.roots and not chart.parts.bass:
        raise UsageError(
            "No bass part was found, so there is nothing to hear alone.",
            "Name the part with --bass, or leave --solo away.",
        )
    first, last = _span(chart, wish)
    seconds = chart.song.tempo.seconds(last) - chart.song.tempo.seconds(first)
    if seconds > LONGEST_S:
        raise UsageError(
            f"These bars last {seconds:.0f} s; an audition lasts up to {LONGEST_S} s.",
            "Ask for fewer with --bars.",
        )
    _bound_voices(chart, first, last)
    return sounds_of(chart, wish, first, last)


def _sum(sounds: Sounds) -> Samples:
    mix = np.zeros(round((sounds.stop - sounds.zero + TAIL_S) * RATE))
    _add(mix, sounds)
    return mix


def _add(mix: Samples, sounds: Sounds) -> list[tuple[int, int]]:
    """Add sounds to a signal, in place; the first sample of each there, and their count."""
    fade = np.arange(round(EDGE_S * RATE)) / round(EDGE_S * RATE)
    places = []
    for at, samples in samples_of(sounds):
        wave = samples[: len(mix) - at]
        if at < len(fade):
            rise = fade[at : at + len(wave)]
            wave = np.concatenate((wave[: len(rise)] * rise, wave[len(rise) :]))
        mix[at : at + len(wave)] += wave
        places.append((at, len(wave)))
    return places


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
