"""Which sounds, when, and how loud? A stretch of a song as one mono signal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from basslint.audition.voices import Samples, Tone, bass_tone, chord_tone, drum_hit
from basslint.errors import SoundError, UsageError
from basslint.hear.chart import Chart
from basslint.song.bends import BendCurve, hear_bends
from basslint.theory.general_midi import KICKS, LOW_TOMS

RATE = 44_100
PEAK = 10 ** (-12 / 20)  # −12 dBFS: a file that is opened must not start loud
GUESSED_T60_S = 1.5  # where no decay is stated, to have a sound at all; the command says so
LONGEST_S = 20 * 60
_STEP_S = 1e-4  # a wheel event is a step; this is how steep its line is drawn
_TAIL_S = 0.1  # a released note still follows the wheel
_LOW_DRUMS = (*KICKS, *LOW_TOMS)


@dataclass(frozen=True, slots=True)
class Wish:
    """What to render: bars (first, last) from 1 or None for all; ``octaves_up`` of the bass;
    ``solo``: the bass alone."""

    bars: tuple[int, int] | None = None
    octaves_up: int = 0
    solo: bool = False


def render(chart: Chart, wish: Wish) -> Samples:
    """The stretch as samples in −1..1, peak at −12 dBFS, mono at `RATE`."""
    if wish.solo and not chart.parts.bass:
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
    mix = np.zeros(round((end - begin + 0.5) * RATE))
    for at, samples in _sounds(chart, wish, first, last):
        start = round((at - begin) * RATE)
        stop = min(start + len(samples), len(mix))
        if start >= 0 and stop > start:
            mix[start:stop] += samples[: stop - start]
    peak = float(np.abs(mix).max(initial=0.0))
    return mix * (PEAK / peak) if peak > 0 else mix


def write_wav(path: Path, samples: Samples) -> None:
    """Write 24-bit WAV. Raises `SoundError`."""
    import io

    import soundfile

    from basslint.util.files import write_atomically

    buffer = io.BytesIO()
    try:
        soundfile.write(buffer, samples, RATE, format="WAV", subtype="PCM_24")
    except (RuntimeError, OSError) as error:
        raise SoundError(f"The sound cannot be written: {error}.", "Try another name.") from None
    write_atomically(path, buffer.getvalue())


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


def _sounds(chart: Chart, wish: Wish, first: int, last: int) -> Iterator[tuple[float, Samples]]:
    """Every sound that begins in the stretch: its time in seconds, and its samples."""
    t60 = chart.facts.decay_s or GUESSED_T60_S
    for tone in bass_tones(chart, 12 * wish.octaves_up, first, last):
        yield tone.start, bass_tone(tone, RATE, t60)
    if wish.solo:
        return
    midi = chart.song.to_pretty_midi()
    notes, roles = chart.song.notes, chart.parts.role
    for row in np.flatnonzero((notes.start >= first) & (notes.start < last)).tolist():
        role = roles[int(notes.part[row])]
        level = float(notes.velocity[row]) / 127
        start = midi.tick_to_time(int(notes.start[row]))
        if role == "drums":
            yield start, drum_hit(0.5 * level, int(notes.pitch[row]) in _LOW_DRUMS, RATE)
        elif role != "bass":
            end = midi.tick_to_time(int(min(notes.end[row], last)))
            pitch = float(notes.pitch[row])
            yield start, chord_tone(_still(start, end, 0.16 * level, pitch), RATE)


def bass_tones(chart: Chart, shift: int, first: int, last: int) -> list[Tone]:
    """The bass as unbroken tones: one per legato chain, with every slide and bend in its curve."""
    song, slides, facts = chart.song, chart.slides, chart.facts
    curves = hear_bends(song, chart.parts.bass, facts.bend_range)
    glide_of = {int(slides.note[i]): i for i in range(len(slides.note)) if slides.how[i] != "bend"}
    tones: list[Tone] = []
    for part in chart.parts.bass:
        rows = np.flatnonzero(song.notes.part == part).tolist()
        chain: list[int] = []
        for row in rows:
            if row not in glide_of and chain:
                tones += _tone(chart, chain, glide_of, curves.get(part), shift, first, last)
                chain = []
            chain.append(row)
        if chain:
            tones += _tone(chart, chain, glide_of, curves.get(part), shift, first, last)
    return tones


def _tone(
    chart: Chart,
    chain: list[int],
    glide_of: dict[int, int],
    curve: BendCurve | None,
    shift: int,
    first: int,
    last: int,
) -> list[Tone]:
    """One chain as a tone; none where it begins outside the stretch."""
    notes, slides, tempo = chart.song.notes, chart.slides, chart.song.tempo
    begin = int(notes.start[chain[0]])
    if not first <= begin < last:
        return []
    knots: list[tuple[float, float]] = []
    for row in chain:
        pitch = float(notes.pitch[row])
        if row in glide_of:
            i = glide_of[row]
            knots += [
                (tempo.seconds(int(slides.start[i])), float(slides.origin[i])),
                (tempo.seconds(int(slides.land[i])), pitch),
            ]
        else:
            knots.append((tempo.seconds(int(notes.start[row])), pitch))
    start = tempo.seconds(begin)
    end = tempo.seconds(int(min(notes.end[chain].max(), last)))
    if chart.facts.one_shot and chart.facts.decay_s:
        end = max(end, start + chart.facts.decay_s)
    times = np.array([k[0] for k in knots])
    pitches = np.array([k[1] for k in knots]) + shift
    if curve is not None:
        moved = tempo.seconds(curve.tick)
        bent = np.concatenate(([0.0], curve.semitones))
        near = np.searchsorted(moved, [start, end + _TAIL_S])
        before = int(near[0])
        moved, bent = moved[before : int(near[1])], bent[before : int(near[1]) + 1]
        every = np.unique(np.concatenate((times, moved, moved - _STEP_S)))
        pitches = (
            np.interp(every, times, pitches) + bent[np.searchsorted(moved, every, side="right")]
        )
        times = every
    level = 0.7 * float(notes.velocity[chain[0]]) / 127
    return [Tone(start, end, level, times, pitches)]


def _still(start: float, end: float, level: float, pitch: float) -> Tone:
    return Tone(start, end, level, np.array([start]), np.array([pitch]))
