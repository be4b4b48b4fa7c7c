"""How often is a right bass note accused, and a wrong one found, under real harmony?

``python tests/bench/accusing.py DATA [STEP]`` (every STEP-th song of pop-chords). The labelled
roots are played as a bass under the piano, with all its notes or from G3 up: every error or warning
of `off-root` and `outside-scale` is a false one. Then two roots of each song, one at a time, are
moved to a pitch class that is neither a tone of the labelled triad or seventh chord nor a
neighbour's root: any finding of the two rules at that note counts as found. Last, the roots under
the melodies of pop-phrases alone, as harmony.
"""

from __future__ import annotations

import io
import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import mido
import numpy as np
from chord_labels import Ints, Labelled, labelled_songs, notes_of, root_of, track_of

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.rulebook.loader import read_book
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

RULES = [r for r in read_book() if r.name in ("off-root", "outside-scale")]
STATED = Facts(harmony=("#1",), bass=("#2",))
_TONES = (0, 3, 4, 7, 10, 11)  # of triads and seventh chords, over the root


def bass_of(start: Ints, end: Ints, pitch: Ints) -> Ints:
    """Notes of a bass, [n, 4], each ending a hair before the next."""
    return np.stack((start, end - 10, pitch, np.full(len(pitch), 100)), axis=1)


def wrong_root(rng: np.random.Generator, root: Ints, pitch: Ints) -> tuple[int, Ints]:
    """A row drawn from a line of roots, and the line with that one moved to a wrong pitch."""
    at = int(rng.integers(1, len(root) - 1))
    known = {*((root[at] + tone) % 12 for tone in _TONES), root[at - 1], root[at + 1]}
    wrong = pitch.copy()
    wrong[at] += rng.choice([d for d in range(-5, 6) if (root[at] + d) % 12 not in known])
    return at, wrong


def findings(song: Song) -> tuple[Finding, ...]:
    """What the two rules say."""
    return judge(Chart(song, STATED), RULES).findings


def measured(songs: Iterator[Labelled], variant: str) -> None:
    """Print false findings per 100 bars and the share of wrong notes found."""
    false: Counter[str] = Counter()
    bars = placed = loud = any_level = 0
    for song in songs:
        rng = np.random.default_rng(int(song.name))
        notes = song.variant(variant)
        keep = song.end - song.start >= song.division
        start, end, root = song.start[keep], song.end[keep], song.root[keep]
        pitch = 28 + (root - 4) % 12
        clean = song.song(notes, bass_of(start, end, pitch))
        bars += clean.grid.bars
        false.update(f.level for f in findings(clean))
        for _ in range(2):
            at, wrong = wrong_root(rng, root, pitch)
            told = findings(song.song(notes, bass_of(start, end, wrong)))
            here = [f for f in told if f.where.tick == start[at]]
            placed += 1
            any_level += bool(here)
            loud += any(f.level != "note" for f in here)
    rate = 100 * (false["error"] + false["warning"]) / bars
    print(
        f"{variant:4} {bars:>6,} bars: {rate:.2f} errors and warnings per 100 bars "
        f"({dict(false)}); of {placed} wrong notes found {any_level / placed:.3f}, "
        f"as error or warning {loud / placed:.3f}"
    )


def under_tunes(data: Path, step: int) -> None:
    """Print false findings on roots under a melody alone."""
    false: Counter[tuple[str, str]] = Counter()
    bars = 0
    for path in sorted((data / "pop-phrases").glob("*.mid"))[::step]:
        source = mido.MidiFile(path)
        tune = next(notes_of(t) for t in source.tracks if "melody" in t.name)
        chords = next(notes_of(t) for t in source.tracks if "chord" in t.name)
        start, first = np.unique(chords[:, 0], return_index=True)
        groups = np.split(chords, first[1:])
        end = np.append(start[1:], groups[-1][:, 1].max())
        pitch = np.array([28 + (root_of(g[:, 2]) - 4) % 12 for g in groups])
        keep = end - start >= source.ticks_per_beat
        song = mido.MidiFile(type=1, ticks_per_beat=source.ticks_per_beat)
        facts = [m for t in source.tracks for m in t if m.type in ("set_tempo", "time_signature")]
        song.tracks.append(mido.MidiTrack([m.copy(time=0) for m in facts[:2]]))
        song.tracks.append(track_of(tune, 0))
        song.tracks.append(track_of(bass_of(start[keep], end[keep], pitch[keep]), 1))
        out = io.BytesIO()
        song.save(file=out)
        read = build(scan(out.getvalue()))
        bars += read.grid.bars
        false.update((f.rule, f.level) for f in findings(read))
    rates = {" ".join(k): round(100 * n / bars, 2) for k, n in sorted(false.items())}
    print(f"roots under a melody alone, {bars:,} bars; per 100 bars: {json.dumps(rates)}")


def main(words: list[str]) -> int:
    """Measure; exit code 2 where there is no data."""
    data = Path(words[0]) if words else Path("data")
    if not (data / "pop-chords").is_dir():
        print(f"{data} has no pop-chords: nothing was measured. Name the data folder.")
        return 2
    step = int(words[1]) if len(words) > 1 else 1
    for variant in ("all", "up"):
        measured(labelled_songs(data, step), variant)
    under_tunes(data, step)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
