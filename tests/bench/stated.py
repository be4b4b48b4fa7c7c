"""Are stated roots as good as full harmony in MIDI: for roots, and for verdicts on wrong notes?

``python tests/bench/stated.py DATA [STEP]`` (every STEP-th song of pop-chords). The labelled chords
are stated, their roots alone, for a file that holds nothing but a bass. Roots are compared with the
labels by time. Then the labelled roots are played as the bass, and two of them a song, one at a
time, moved to a pitch class that is neither a tone of the labelled chord nor a neighbour's root, as
in ``accusing.py``: the share that is found, at all and as error or warning, is set beside that
under the piano with all its notes, and so are errors and warnings on the bass as labelled. A third
time the roots are stated beside the piano, which then says what their chords hold. Last, on which
share of the wrong notes two of the three give the same verdict; and the same where the piano's own
root is sure and that of the label.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
from accusing import RULES, bass_of, wrong_root
from accusing import STATED as PIANO
from chord_labels import Ints, Labelled, labelled_songs
from hearing_roots import overlaps, share_right

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedChords
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import Roots
from basslint.judging.judge import judge
from basslint.song.arrangement import Song
from basslint.theory.chord_symbols import SHORTEST, ChordSpan, read_symbol
from basslint.theory.names import SHARPS
from basslint.util.records import replace

Counts = Counter[str]


def stated_roots(song: Labelled, bars: Sequence[int]) -> Facts:
    """The labelled roots as a user would state them, in bars; ``bars``: ticks of the bar lines."""
    lines = np.array(bars, dtype=np.int64)

    def place(tick: int) -> Fraction:
        bar = int(np.clip(np.searchsorted(lines, tick, side="right") - 1, 0, len(lines) - 2))
        return bar + Fraction(int(tick - lines[bar]), int(lines[bar + 1] - lines[bar]))

    edges: list[tuple[Fraction, str]] = [(Fraction(0), "N.C.")]
    for start, end, root in zip(song.start, song.end, song.root, strict=True):
        edges += [(place(int(start)), SHARPS[root]), (place(int(end)), "N.C.")]
    edges.append((Fraction(len(lines) - 1), "N.C."))
    spans = [
        ChordSpan(read_symbol(name), until - since)
        for (since, name), (until, _) in pairwise(edges)
        if until - since >= SHORTEST / 100  # rounding of the labels
    ]
    return Facts(bass=("#1",), chords=(StatedChords(1, tuple(spans)),))


def only_bass(song: Labelled, bass: Ints) -> Song:
    """A file that holds nothing but the bass."""
    return song.song(bass)


def verdicts(chart: Chart, tick: int | None) -> tuple[bool, bool]:
    """Whether anything, and anything loud, is found: at a tick, or anywhere."""
    found = [f for f in judge(chart, RULES).findings if tick is None or f.where.tick == tick]
    return bool(found), any(f.level != "note" for f in found)


def sure_of(roots: Roots, tick: int, root: int) -> bool:
    """Whether a root is heard as certain at a tick."""
    row = int(np.searchsorted(roots.start, tick, side="right")) - 1
    told = row >= 0 and tick < int(roots.end[row]) and roots.certainty[row] >= CERTAIN
    return bool(told and roots.root[row] == root)


def measure(songs: Iterator[Labelled]) -> None:
    """Print the figures of stated roots, of the piano, and of roots stated beside the piano."""
    right: list[float] = []
    counts: dict[str, Counts] = {name: Counter() for name in ("stated", "piano", "both")}
    agree: Counts = Counter()
    clear: Counts = Counter()
    placed = 0
    for song in songs:
        rng = np.random.default_rng(int(song.name))
        keep = song.end - song.start >= song.division
        start, end, root = song.start[keep], song.end[keep], song.root[keep]
        pitch = 28 + (root - 4) % 12
        clean = bass_of(start, end, pitch)
        grid = song.song(song.notes, clean).grid
        facts = stated_roots(song, grid.start.tolist())

        def charts(line: Ints, song: Labelled = song, facts: Facts = facts) -> dict[str, Chart]:
            full = song.song(song.notes, line)
            return {
                "stated": Chart(only_bass(song, line), facts),
                "piano": Chart(full, PIANO),
                "both": Chart(full, replace(PIANO, chords=facts.chords)),
            }

        for name, heard in charts(clean).items():
            told = judge(heard, RULES).findings
            counts[name]["false"] += sum(f.level != "note" for f in told)
            counts[name]["bars"] += grid.bars
            if name == "stated":
                right.append(share_right(overlaps(song, heard.roots)))
        for _ in range(2):
            at, wrong = wrong_root(rng, root, pitch)
            line = bass_of(start, end, wrong)
            laid = charts(line)
            said = {name: verdicts(c, int(start[at])) for name, c in laid.items()}
            placed += 1
            if sure_of(laid["piano"].roots, int(start[at]), int(root[at])):
                clear["placed"] += 1
                clear["same"] += said["stated"] == said["piano"]
                clear.update(f"{name} found" for name, (found, _) in said.items() if found)
            agree.update(f"{a}, {b}" for a, b in combinations(said, 2) if said[a] == said[b])
            for name, (found, loud) in said.items():
                counts[name]["found"] += found
                counts[name]["loud"] += loud
    print(f"root per time, stated roots alone: {np.mean(right):.4f} ({len(right)} songs)")
    for name, c in counts.items():
        print(
            f"{name:7} wrong notes found {c['found'] / placed:.3f}, as error or warning "
            f"{c['loud'] / placed:.3f} (of {placed}); errors and warnings on right ones "
            f"{100 * c['false'] / c['bars']:.2f} per 100 bars"
        )
    for pair, same in agree.items():
        print(f"{pair}: the same verdict on {same / placed:.3f}")
    there = max(clear["placed"], 1)
    print(
        f"where the piano's root is sure and the label's ({clear['placed'] / placed:.3f} of them): "
        f"stated found {clear['stated found'] / there:.3f}, piano "
        f"{clear['piano found'] / there:.3f}, the same verdict on {clear['same'] / there:.3f}"
    )


def main(words: list[str]) -> int:
    """Measure; exit code 2 where there is no data."""
    data = Path(words[0]) if words else Path("data")
    if not (data / "pop-chords").is_dir():
        print(f"{data} has no pop-chords: nothing was measured. Name the data folder.")
        return 2
    measure(labelled_songs(data, int(words[1]) if len(words) > 1 else 1))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
