"""Are stated roots as good as harmony in MIDI: for roots, and for verdicts on wrong notes?

``python tests/bench/stated.py DATA [STEP [FIRST [SEED]]]`` (every STEP-th song of pop-chords from
the FIRST on, other faults by SEED; a step of 4 takes some two minutes of processor time). The
labelled roots are played as the bass. The harmony comes in five ways: the roots of the labels
stated alone, their chords stated in full, both for a file that holds nothing but the bass; the
piano with all its notes; the roots stated beside that piano, which then says what their chords
hold; and the labelled chords played as blocks, which are the same harmony as is stated, in MIDI.

Roots are compared with the labels by time. Errors and warnings on the bass as labelled are false.
Then three of its notes, one at a time, are moved to a pitch class that is neither a tone of a triad
or seventh chord on the root nor a neighbour's root, as in ``accusing.py``. Told means: an error or
a warning stands at that note. Differences are of pairs, faults by faults, with their standard
error; also where the piano's own root is sure and that of the label, and by how far above its root
the wrong note lies.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
from accusing import RULES, bass_of, wrong_root
from accusing import STATED as PIANO
from chord_labels import Ints, Labelled, labelled_songs, symbol_of
from hearing_roots import overlaps, share_right

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedChords
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import Roots
from basslint.judging.judge import judge
from basslint.theory.chord_symbols import SHORTEST, ChordSpan, read_symbol
from basslint.theory.names import SHARPS
from basslint.util.records import replace

WAYS = ("roots", "chords", "piano", "beside", "blocks")
PAIRS = (("roots", "piano"), ("beside", "piano"), ("roots", "blocks"), ("chords", "blocks"))
FAULTS = 3  # a song

Charts = Callable[[Ints], dict[str, Chart]]


@dataclass(frozen=True, slots=True)
class Fault:
    """A wrong note: how far ``above`` its root, whether the piano's root is ``sure`` and right, and
    the gravest ``level`` that stands at it in each way of having the harmony, empty for none."""

    above: int
    sure: bool
    level: dict[str, str]

    def told(self, way: str) -> bool:
        """Is it told as an error or a warning?"""
        return self.level[way] in ("error", "warning")


def stated(song: Labelled, names: Sequence[str], bars: Sequence[int]) -> tuple[StatedChords, ...]:
    """Chords of the labels as a user would state them; ``bars``: ticks of the bar lines."""
    lines = np.array(bars, dtype=np.int64)

    def place(tick: int) -> Fraction:
        bar = int(np.clip(np.searchsorted(lines, tick, side="right") - 1, 0, len(lines) - 2))
        return bar + Fraction(int(tick - lines[bar]), int(lines[bar + 1] - lines[bar]))

    edges: list[tuple[Fraction, str]] = [(Fraction(0), "N.C.")]
    for start, end, name in zip(song.start, song.end, names, strict=True):
        edges += [(place(int(start)), name), (place(int(end)), "N.C.")]
    edges.append((Fraction(len(lines) - 1), "N.C."))
    spans = [
        ChordSpan(read_symbol(name), until - since)
        for (since, name), (until, _) in pairwise(edges)
        if until - since >= SHORTEST / 100  # rounding of the labels
    ]
    return (StatedChords(1, tuple(spans)),)


def charts_of(song: Labelled, bars: Sequence[int]) -> Charts:
    """How a bass line is heard in each of `WAYS`."""
    roots = stated(song, [SHARPS[root] for root in song.root], bars)
    chords = stated(
        song, [symbol_of(g, r) for g, r in zip(song.chords, song.root, strict=True)], bars
    )
    blocks = np.concatenate(song.chords)

    def charts(line: Ints) -> dict[str, Chart]:
        alone, full = song.song(line), song.song(song.notes, line)
        return {
            "roots": Chart(alone, Facts(bass=("#1",), chords=roots)),
            "chords": Chart(alone, Facts(bass=("#1",), chords=chords)),
            "piano": Chart(full, PIANO),
            "beside": Chart(full, replace(PIANO, chords=roots)),
            "blocks": Chart(song.song(blocks, line), PIANO),
        }

    return charts


def gravest(chart: Chart, tick: int) -> str:
    """The gravest level of what is found at a tick, empty for nothing."""
    levels = {f.level for f in judge(chart, RULES).findings if f.where.tick == tick}
    return next((level for level in ("error", "warning", "note") if level in levels), "")


def sure_of(roots: Roots, tick: int, root: int) -> bool:
    """Whether a root is heard as certain at a tick."""
    row = int(np.searchsorted(roots.start, tick, side="right")) - 1
    told = row >= 0 and tick < int(roots.end[row]) and roots.certainty[row] >= CERTAIN
    return bool(told and roots.root[row] == root)


def measure(songs: Iterable[Labelled], seed: int) -> None:
    """Print the figures of every way of having the harmony."""
    right: list[float] = []
    false: Counter[str] = Counter()
    faults: list[Fault] = []
    bars = 0
    for song in songs:
        rng = np.random.default_rng([int(song.name), seed])
        keep = song.end - song.start >= song.division
        start, end, root = song.start[keep], song.end[keep], song.root[keep]
        pitch = 28 + (root - 4) % 12
        clean = bass_of(start, end, pitch)
        grid = song.song(song.notes, clean).grid
        charts = charts_of(song, grid.start.tolist())
        as_labelled = charts(clean)
        bars += grid.bars
        for way, chart in as_labelled.items():
            false[way] += sum(f.level != "note" for f in judge(chart, RULES).findings)
        right.append(share_right(overlaps(song, as_labelled["roots"].roots)))
        for _ in range(FAULTS):
            at, wrong = wrong_root(rng, root, pitch)
            tick = int(start[at])
            heard = charts(bass_of(start, end, wrong))
            for way, chart in heard.items():
                chart.with_roots_of(as_labelled[way])  # the bass has no say in them
            sure = sure_of(heard["piano"].roots, tick, int(root[at]))
            level = {way: gravest(chart, tick) for way, chart in heard.items()}
            faults.append(Fault(int(wrong[at] - root[at]) % 12, sure, level))
    print(f"{len(right)} songs, {bars:,} bars; root per time as stated: {np.mean(right):.4f}")
    for way in WAYS:
        print(f"{way:6}: {100 * false[way] / bars:.2f} false errors and warnings per 100 bars")
    report("all wrong notes", faults)
    report("where the piano's root is sure and the label's", [f for f in faults if f.sure])
    for above in sorted({f.above for f in faults}):
        report(f"{above} semitones above the root", [f for f in faults if f.above == above])


def report(name: str, faults: Sequence[Fault]) -> None:
    """Print which share of some faults is told in each way, and how far two ways agree."""
    if not faults:
        return
    told = {way: np.array([f.told(way) for f in faults], dtype=float) for way in WAYS}
    found = {way: np.mean([f.level[way] != "" for f in faults]) for way in WAYS}
    shares = ", ".join(f"{way} {told[way].mean():.3f} ({found[way]:.3f})" for way in WAYS)
    print(f"{name} ({len(faults)}): told (found) {shares}")
    for one, other in PAIRS:
        apart = told[one] - told[other]
        error = apart.std() / len(faults) ** 0.5
        level = np.mean([f.level[one] == f.level[other] for f in faults])
        print(
            f"    {one} and {other}: {apart.mean():+.3f} ± {error:.3f}; both or neither told "
            f"{1 - np.abs(apart).mean():.3f}, the same level {level:.3f}"
        )


def main(words: list[str]) -> int:
    """Measure; exit code 2 where there is no data."""
    data = Path(words[0]) if words else Path("data")
    if not (data / "pop-chords").is_dir():
        print(f"{data} has no pop-chords: nothing was measured. Name the data folder.")
        return 2
    step, first, seed = (int(w) for w in (*words[1:4], *("4", "0", "0")[len(words) - 1 :]))
    measure(labelled_songs(data, step, first), seed)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
