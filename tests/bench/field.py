"""Real arrangements as people wrote them: how often are they accused, and are faults in them found?

``python tests/bench/field.py SONGS [--step N] [--faults N] [--judged FILE] [--each]``. SONGS is a
folder of ``<source>/<file>.mid``, never copied here; where it holds a ``songs.csv``, as for
`slips.py`, its column ``path`` names the files to use. Every N-th song is measured.

Figures are per 100 bars of the files in which a bass is heard, by level and rule, and once more
with a rule counted once a file, part and level, so that what is told together and what is not can
be compared; beside them stands the share of those bars that `off-root` judged, so that silence is
not bought by judging nothing. ``--judged``: a table of findings that were read note by note (file,
rule, level, bar, verdict right, arguable or wrong; by default ``judgements.csv`` in SONGS); told is
how many of them still stand at their level or above. ``--faults``: so many of each kind of
`song_faults.py` are put in, one a song, and looked for. ``--each`` lists errors and warnings.
"""

from __future__ import annotations

import csv
import io
import random
import sys
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import mido
import song_faults
from real_songs import songs

from basslint.checking.one_file import check_bytes
from basslint.judging.results import Finding
from basslint.rulebook.loader import Rule, read_book
from basslint.rulebook.model import LEVELS
from basslint.settings.model import Settings
from basslint.song.timing import BarGrid

JUDGE = "off-root"  # the rule by whose bars it is told how much was judged
SEED = 5
NAMED = {"whole": "bass-shifted", "stretch": "bass-shifted", "late": "bass-off-drums"}


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What is said of one song: of ``bars`` so many were ``judged``, and the ``findings``."""

    path: Path
    name: str
    bars: int
    judged: int
    bpm: float
    grid: BarGrid
    findings: tuple[Finding, ...]

    @property
    def loud(self) -> list[Finding]:
        """Errors and warnings."""
        return [f for f in self.findings if f.level != "note"]

    @cached_property
    def _told(self) -> frozenset[int]:
        return frozenset(where.bar for x in self.loud for where in x.places)

    def free(self, tick: int) -> bool:
        """Is nothing loud told in the bar of a tick?"""
        return self.bar(tick) not in self._told

    def bar(self, tick: int) -> int:
        """The bar of a tick, from 1."""
        return int(self.grid.bar_of(tick)) + 1


def measured(path: Path, name: str, data: bytes, book: Sequence[Rule]) -> Measured | None:
    """What the book says of bytes, nothing stated; None where no bass is heard in them."""
    report = check_bytes(data, name, Settings(), book)
    chart = report.chart
    if chart is None or not chart.parts.bass:
        return None
    grid, tempo = chart.song.grid, chart.song.tempo
    silent = {
        bar
        for entry in report.unjudged
        if entry.rule == JUDGE
        for bar in range(entry.start_bar, min(entry.end_bar, grid.bars + 1))
    }
    return Measured(
        path=path,
        name=name,
        bars=grid.bars,
        judged=grid.bars - len(silent),
        bpm=6e7 / float(tempo.usec[0]),
        grid=grid,
        findings=report.findings,
    )


def rates(files: Sequence[Measured]) -> list[str]:
    """Figures per 100 bars by level, then by rule, and the share of bars judged."""
    bars = sum(f.bars for f in files)
    every = Counter((x.rule, x.level) for f in files for x in f.findings)
    once = Counter(
        key
        for f in files
        for key in {(x.rule, x.level, x.part.number if x.part else 0) for x in f.findings}
    )

    def of(level: str, counted: Counter) -> float:
        return 100 * sum(n for key, n in counted.items() if key[1] == level) / bars

    lines = [
        f"{len(files)} songs with a bass, {bars:,} bars, "
        f"{sum(f.judged for f in files) / bars:.3f} of them judged by {JUDGE}",
        "per 100 bars: " + ", ".join(f"{level}s {of(level, every):.3f}" for level in LEVELS),
        "once a file, rule and part: "
        + ", ".join(f"{level}s {of(level, once):.3f}" for level in LEVELS),
    ]
    for rule in sorted({rule for rule, _ in every}):
        said = [f"{level} {100 * every[rule, level] / bars:.3f}" for level in LEVELS]
        lines.append(f"  {rule:24s} {'  '.join(said)}")
    return lines


def still(files: Sequence[Measured], table: Path) -> list[str]:
    """How many of the findings that were read still stand, by verdict."""
    told = {
        (f.name, x.rule, where.bar): x.level
        for f in files
        for x in sorted(f.findings, key=lambda x: -LEVELS.index(x.level))
        for where in x.places
    }
    names = {f.name for f in files}
    stands, asked = Counter(), Counter()
    with table.open(encoding="utf-8") as lines:
        for row in csv.DictReader(lines):
            if row["file"] not in names:
                continue
            asked[row["verdict"]] += 1
            level = told.get((row["file"], row["rule"], int(row["bar"])))
            stands[row["verdict"]] += level is not None and (
                LEVELS.index(level) <= LEVELS.index(row["level"])
            )
    return [f"judged {v}: {stands[v]} of {asked[v]} still stand" for v in sorted(asked)]


def found(fault: song_faults.Fault, before: Measured, after: Measured | None) -> bool:
    """Is a fault told? One note or its copies: by an error or warning in one of their bars, of any
    rule. A whole bass a semitone off: by an error of a rule that had none. What lies late, early or
    off for a stretch: by more errors and warnings of some rule than before."""
    if after is None:
        return False
    if fault.kind in ("one", "copies"):
        wrong = {before.bar(tick) for tick in fault.ticks}
        return any(where.bar in wrong for x in after.loud for where in x.places)
    levels = ("error",) if fault.kind == "whole" else ("error", "warning")
    old, new = (Counter(x.rule for x in f.loud if x.level in levels) for f in (before, after))
    return any(new[rule] > old[rule] for rule in new)


def named(fault: song_faults.Fault, after: Measured | None) -> bool:
    """Is a fault of a whole bass, or of a stretch, told by the rule that names it?"""
    return after is not None and any(x.rule == NAMED.get(fault.kind) for x in after.loud)


def faults(files: Sequence[Measured], book: Sequence[Rule], most: int) -> list[str]:
    """Faults of each kind put into songs, one at a time, and looked for."""
    rng = random.Random(SEED)
    told, by_name, asked = Counter(), Counter(), Counter()
    for before in rng.sample(files, len(files)):
        kinds = [kind for kind in song_faults.KINDS if asked[kind] < most]
        if not kinds:
            break
        try:
            song = song_faults.read(mido.MidiFile(before.path, clip=True))
        except (OSError, ValueError, KeyError, EOFError, mido.KeySignatureError):  # odd files
            continue
        if song is None:
            continue
        for kind in kinds:
            fault = song_faults.put_in(kind, song, rng, before.free, before.bpm)
            if fault is None:
                continue
            stream = io.BytesIO()
            fault.midi.save(file=stream)
            after = measured(before.path, before.name, stream.getvalue(), book)
            asked[kind] += 1
            told[kind] += found(fault, before, after)
            by_name[kind] += named(fault, after)
    lines = []
    for kind in song_faults.KINDS:
        if not asked[kind]:
            continue
        more = f", {by_name[kind]} by {NAMED[kind]}" if kind in NAMED else ""
        share = told[kind] / asked[kind]
        lines.append(f"put in: {kind:8s} told {told[kind]} of {asked[kind]} = {share:.2f}{more}")
    return lines


def main(words: list[str]) -> int:
    """Measure and print."""
    asked = ArgumentParser(description=__doc__.split("\n", 1)[0])
    asked.add_argument("songs", type=Path)
    asked.add_argument("--step", type=int, default=1)
    asked.add_argument("--faults", type=int, default=0)
    asked.add_argument("--judged", type=Path)
    asked.add_argument("--each", action="store_true")
    given = asked.parse_args(words)
    book = read_book()
    files = []
    for path, _ in list(songs(given.songs))[:: given.step]:
        name = path.relative_to(given.songs).as_posix()
        one = measured(path, name, path.read_bytes(), book)
        if one is not None:
            files.append(one)
    if not files:
        print(f"{given.songs} holds no songs with a bass: nothing was measured.")
        return 2
    print("\n".join(rates(files)))
    table = given.judged or given.songs / "judgements.csv"
    if table.exists():
        print("\n".join(still(files, table)))
    if given.each:
        for one in files:
            for x in one.loud:
                print(f"{one.name}\t{x.where.bar}\t{x.level}\t{x.rule}\t{x.message}")
    if given.faults:
        print("\n".join(faults(files, book, given.faults)))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
