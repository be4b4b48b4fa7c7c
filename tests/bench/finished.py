"""Is what a loop of sound is sure of right in finished music? Sounds beside their MIDI.

    python tests/bench/finished.py FOLDER [--bars 8] [--most 170] [--each]

FOLDER holds NAME.mid beside NAME.ogg (.mp3, .flac, .wav). The two are laid onto each other by
strokes and pitch classes together: strokes alone find another bar where music repeats, pitch
classes alone come late. A piece whose classes hardly agree even so is named and left out; one that
is played a little faster than its MIDI is not stretched. ``--bars`` cuts loops of so many bars,
each heard alone; without it a piece is one loop. ``--most`` seconds of each.

Three truths, each where the ear for MIDI is sure: *bass*, of all notes, since the sound holds the
bass; *clear*, where without the bass no other root is likelier than not; *same*, where both are
sure and agree. Where the MIDI speeds up or slows down, so do its eighths in the sound.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import mido
import numpy as np
from numpy.typing import NDArray

from basslint.audio import loop
from basslint.audio.load import Sound, read_loop
from basslint.audio.notes import FIRST_NOTE, NOTES, saliences, whiten
from basslint.audio.spectra import FRAME_S, RATE_HZ, log_spectra
from basslint.audio.steady import lasting
from basslint.audio.strokes import STROKE_S, band_levels, stroke_strength
from basslint.audio.tuning import hear_tuning
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.harmony.roots import CERTAIN, Roots
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.util.records import replace

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DRUMS = 10
EARLIEST_S, LATEST_S = -12.0, 26.0  # of the MIDI's beginning in the sound
AGREE = 0.4  # correlation of the pitch classes below which sound and MIDI are different music
TRUTHS = ("bass", "clear", "same")


class Laid:
    """Bars whose eighths lie where the song has them: what `find_bars` would give, but by hand."""

    def __init__(self, edges_s: Floats, bars: int, meter: tuple[int, int]) -> None:
        self._edges_s, self.bars, self.meter = edges_s, bars, meter
        self.begins_s, self.end_s = float(edges_s[0]), float(edges_s[-1])
        self.cut = self.tempo_heard = self.bars_heard = self.begins_heard = False

    def eighths_s(self) -> Floats:
        return self._edges_s


def correlation(one: Floats, other: Floats, least: int, most: int) -> Floats:
    """How well columns [n, d] agree where ``one`` is so many frames later, for each lag."""
    one, other = one - one.mean(axis=1 if one.shape[1] > 1 else 0, keepdims=True), other
    other = other - other.mean(axis=1 if other.shape[1] > 1 else 0, keepdims=True)
    size = 1 << (len(one) + len(other)).bit_length()
    product = np.fft.rfft(one, size, axis=0) * np.conj(np.fft.rfft(other, size, axis=0))
    whole = np.fft.irfft(product, size, axis=0).sum(axis=1)
    return whole[np.arange(least, most) % size] / np.sqrt((one**2).sum() * (other**2).sum())


def classes_of(sound: Sound) -> Floats:
    """How strongly each pitch class sounds in each frame, [frames, 12]."""
    spectra = log_spectra(sound.samples, hear_tuning(sound.samples).cents)
    strength = np.sqrt(saliences(whiten(lasting(spectra))).astype(np.float64))
    note = (FIRST_NOTE + np.arange(NOTES)) % 12
    return np.stack([strength[:, note == k].sum(axis=1) for k in range(12)], axis=1)


def lag_of(sound: Sound, song: Song) -> tuple[float, float]:
    """Second of the sound at which the MIDI begins, and how well pitch classes agree there."""
    heard, strokes = classes_of(sound), stroke_strength(band_levels(sound.samples))
    begins, ends = song.tempo.seconds(song.notes.start), song.tempo.seconds(song.notes.end)
    pitched = ~drums(song)[song.notes.part]
    written = np.zeros((len(heard) + 300, 12))
    struck = np.zeros(len(strokes) + 1200)
    rows = zip(begins, ends, song.notes.pitch, song.notes.velocity, pitched, strict=True)
    for begin, end, pitch, velocity, sounds in rows:
        first = round(begin / FRAME_S)
        if sounds:
            written[first : max(round(end / FRAME_S), first + 2), pitch % 12] += 1.0
        if round(begin / STROKE_S) < len(struck):
            struck[round(begin / STROKE_S)] += velocity / 127.0
    struck = np.convolve(np.sqrt(struck), np.hanning(7), "same")
    frames = round(EARLIEST_S / FRAME_S), round(LATEST_S / FRAME_S)
    fine = np.arange(round(EARLIEST_S / STROKE_S), round(LATEST_S / STROKE_S))
    by_class = correlation(heard, np.sqrt(np.minimum(written, 3.0)), *frames)
    by_stroke = correlation(strokes[:, None].astype(float), struck[:, None], fine[0], fine[-1] + 1)
    agree = np.interp(fine * STROKE_S, np.arange(*frames) * FRAME_S, by_class)
    best = int((agree / agree.std() + 0.5 * by_stroke / by_stroke.std()).argmax())
    return float(fine[best] * STROKE_S), float(agree[best])


def drums(song: Song) -> NDArray[np.bool_]:
    return np.array([part.channel == DRUMS for part in song.parts])


def all_in_one(song: Song, data: bytes) -> Song:
    """All pitched notes as one part, which is then the harmony, bass and all."""
    events = []
    for row in np.flatnonzero(~drums(song)[song.notes.part]).tolist():
        start, end = int(song.notes.start[row]), int(song.notes.end[row])
        pitch = int(song.notes.pitch[row])
        events += [(start, 1, pitch), (max(end, start + 1), 0, pitch)]
    track, now = mido.MidiTrack(), 0
    for tick, on, pitch in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, note=pitch, velocity=90, time=tick - now))
        now = tick
    head, now = mido.MidiTrack(), 0
    for message in mido.merge_tracks(mido.MidiFile(file=io.BytesIO(data)).tracks):
        now += message.time
        if message.type in ("set_tempo", "time_signature"):
            head.append(message.copy(time=now))
            now = 0
    out = io.BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=song.division, tracks=[head, track]).save(file=out)
    return build(scan(out.getvalue()))


def written_roots(roots: Roots, ticks: Ints) -> tuple[Ints, Floats]:
    """Root in the middle of each eighth, −1 for none, and how sure the ear for MIDI is of it."""
    middle = (ticks[:-1] + ticks[1:]) // 2
    row = np.maximum(np.searchsorted(roots.start, middle, side="right") - 1, 0)
    inside = (middle >= roots.start[row]) & (middle < roots.end[row]) & (roots.root[row] >= 0)
    return np.where(inside, roots.root[row], -1), np.where(inside, roots.certainty[row], 0.0)


def stretches(song: Song, lag: float, length: float, most: int | None) -> Iterator[Ints]:
    """Bars of each loop, from 0: of the longest stretch in one meter that the sound holds."""
    grid = song.grid
    end = min(length, song.tempo.seconds(int(song.notes.end.max())) + lag + 3.0)
    edge = song.tempo.seconds(grid.start) + lag
    held = np.flatnonzero((edge[:-1] >= -0.02) & (edge[1:] <= end + 0.05))
    meter = grid.numerator * 256 + grid.denominator
    cuts = np.flatnonzero((np.diff(held) > 1) | (np.diff(meter[held]) != 0)) + 1
    run = max(np.split(held, cuts), key=len)
    if most is None:
        yield run
    else:
        yield from (run[k : k + most] for k in range(0, len(run) - most + 1, most))


def counts(midi: Path, sound: Path, bars: int | None, most_s: float) -> dict[str, Ints] | None:
    """By truth: eighths, right, told as sure, of these right; None where the two do not fit."""
    data = midi.read_bytes()
    song = build(scan(data))
    heard = read_loop(sound, 3600.0)
    heard = replace(heard, samples=heard.samples[: int(most_s * RATE_HZ)])
    lag, agree = lag_of(heard, song)
    if agree < AGREE:
        return None
    whole = Chart(all_in_one(song, data), Facts(harmony=("#1",))).roots
    without = Chart(song, Facts()).roots
    total = {name: np.zeros(4, dtype=np.int64) for name in TRUTHS}
    for run in stretches(song, lag, len(heard.samples) / RATE_HZ, bars):
        meter = int(song.grid.numerator[run[0]]), int(song.grid.denominator[run[0]])
        lines = song.grid.start[np.append(run, run[-1] + 1)]
        steps = meter[0] * max(8 // meter[1], 1)
        places = np.arange(len(run) * steps + 1) / steps
        ticks = np.rint(np.interp(places, np.arange(len(lines)), lines)).astype(np.int64)
        laid = Laid(np.maximum(song.tempo.seconds(ticks) + lag, 0.0), len(run), meter)
        root, sure = told(heard, laid)
        (true, certain), (other, likely) = (
            written_roots(whole, ticks),
            written_roots(without, ticks),
        )
        known = (true >= 0) & (certain >= CERTAIN)
        clear = known & ((other == true) | (likely < 0.5))
        same = known & (other == true) & (likely >= CERTAIN)
        for name, where in zip(TRUTHS, (known, clear, same), strict=True):
            right = where & (root == true)
            total[name] += [where.sum(), right.sum(), (where & sure).sum(), (right & sure).sum()]
    return total


def told(sound: Sound, laid: Laid) -> tuple[Ints, NDArray[np.bool_]]:
    """Root of each eighth of the sound, and whether it is told as sure."""
    with (
        patch.object(loop, "read_loop", lambda *_: sound),
        patch.object(loop, "find_bars", lambda *_: laid),
        patch.object(loop, "left_over", lambda *_: None),
    ):
        heard = loop.hear_loop("")
    harmony = heard.tonality.weight >= loop.HARMONY_HEARD
    return heard.by_root.argmax(axis=1), (heard.by_root.max(axis=1) >= CERTAIN) & harmony


def line(name: str, row: Ints) -> str:
    share = row / np.maximum(row[[0, 0, 0, 2]], 1)
    return f"{name:30} {row[0]:6} {share[1]:.3f} sure {share[2]:.3f} right when sure {share[3]:.3f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--bars", type=int)
    parser.add_argument("--most", type=float, default=170.0)
    parser.add_argument("--each", action="store_true")
    args = parser.parse_args()
    total = {name: np.zeros(4, dtype=np.int64) for name in TRUTHS}
    for midi in sorted(args.folder.glob("*.mid")):
        sound = next(
            (s for e in (".ogg", ".mp3", ".flac", ".wav") if (s := midi.with_suffix(e)).is_file()),
            None,
        )
        found = counts(midi, sound, args.bars, args.most) if sound else None
        if found is None:
            print(f"{midi.stem}: left out, no sound fits it")
            continue
        for name in TRUTHS:
            total[name] += found[name]
        if args.each:
            print(line(midi.stem, found["bass"]))
    for name in TRUTHS:
        print(line(name, total[name]))


if __name__ == "__main__":
    main()
