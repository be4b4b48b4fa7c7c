"""How long does a check take, beside what else reads the same file?

``python tests/bench/speed.py`` measures, in one process and one run: check against the bare parse
of mido, against pretty_midi and against parse, key, chordify and roots of music21, on a small, a
typical and a large arrangement; the time of each storey; the growth from 1,000 to 200,000 notes;
the peak of memory; the start from nothing. Each figure is the least of several runs taken in turn,
so that a busy machine slows all alike. ``--quick`` leaves music21 out of all but the small one.
"""

from __future__ import annotations

import argparse
import gc
import os
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from functools import partial
from io import StringIO
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does
sys.path.insert(0, str(Path(__file__).parents[1]))

import mido
import numpy as np
import pretty_midi
from bench.arrangements import arrangement

import basslint
from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes, check_file
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import FileReport
from basslint.report.formats.json_report import report_json
from basslint.report.formats.text import print_report
from basslint.smf.scan import Limits, scan
from basslint.song.arrangement import build

SIZES = {"small": 500, "typical": 8_000, "large": 100_000}
GROWTH = (1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000, 200_000)
MOST_OF_MIDO, LEAST_OF_MUSIC21, MOST_GROWTH = 0.25, 100.0, 1.5
QUESTIONS = (
    "parts", "bass", "roots", "bass_chords", "keys", "phrases", "pattern", "functions", "slides",
    "fills",
)  # fmt: skip
LIMITS = Limits(max_beats=20_000)  # 200,000 notes are more than a song may hold by itself
SETTINGS = basslint.Settings(limits=LIMITS)
RULES = SETTINGS.choose(book_for(SETTINGS))


def least(runs: int, *works: Callable[[], object]) -> list[float]:
    """The least seconds of each of some works, run in turn."""
    best = [float("inf")] * len(works)
    for _ in range(runs):
        for place, work in enumerate(works):
            gc.collect()  # none pays for what another has left behind
            begin = time.perf_counter()
            work()
            best[place] = min(best[place], time.perf_counter() - begin)
    return best


def with_music21(path: Path) -> int:
    """The same job the long way: parse, key, chordify, and the root of every chord."""
    from music21 import converter

    score = converter.parse(path, forceSource=True)
    score.analyze("key")
    chords = score.chordify().recurse().getElementsByClass("Chord")
    return len([c.root() for c in chords])


def ratios(folder: Path, quick: bool) -> list[str]:
    """Print check against the others; returns what falls short."""
    short: list[str] = []
    print("check against others (ms, and check as a share of it)")
    for name, notes in SIZES.items():
        path = folder / f"{name}.mid"
        path.write_bytes(arrangement(notes))
        report = check_file(path, SETTINGS, RULES)
        assert report.chart is not None and not report.faults
        song = report.chart.song
        events = sum(len(t) for t in song.scan.tracks)
        check, bare, pretty = least(
            3 if notes > 50_000 else 15,
            lambda path=path: check_file(path, SETTINGS, RULES),
            lambda path=path: mido.MidiFile(path),
            lambda path=path: pretty_midi.PrettyMIDI(str(path)),
        )
        print(
            f"  {name:8} {len(song.notes):>7,} notes {events:>8,} events {song.grid.bars:>5} bars: "
            f"check {check * 1e3:8.1f}   mido {bare * 1e3:8.1f} ({check / bare:.2f})   "
            f"pretty_midi {pretty * 1e3:8.1f} ({check / pretty:.3f})"
        )
        if name != "small" and check > MOST_OF_MIDO * bare:
            short.append(f"{name}: check takes {check / bare:.2f} of mido's parse")
        if name == "small" or (name == "typical" and not quick):
            begin = time.perf_counter()
            chords = with_music21(path)
            long = time.perf_counter() - begin
            print(
                f"           music21 {long * 1e3:10.0f} ms for {chords:,} chords: "
                f"{long / check:.0f}x"
            )
            if long < LEAST_OF_MUSIC21 * check:
                short.append(f"{name}: only {long / check:.0f} times as fast as music21")
    return short


def storeys(notes: int, runs: int) -> dict[str, float]:
    """The least seconds of each step of a check, in order.

    ``judge`` asks the readings that the rules come to, as a check does: most conditions are never
    reached, so all readings by their names would cost more than any song pays.
    """
    raw = arrangement(notes)
    best: dict[str, float] = {}

    def timed(name: str, work: Callable[[], object]) -> object:
        begin = time.perf_counter()
        result = work()
        best[name] = min(best.get(name, float("inf")), time.perf_counter() - begin)
        return result

    for _ in range(runs):
        read = scan(raw)
        timed("scan", lambda: scan(raw))
        timed("song", lambda read=read: build(read))
        chart = Chart(build(read), basslint.Facts())
        for question in QUESTIONS:
            timed(question, lambda q=question, c=chart: getattr(c, q))
        timed("judge", lambda c=chart: judge(c, RULES))
        report = basslint.Report((check_file_of(raw),))
        timed("report (text)", lambda r=report: print_report(r, StringIO(), 4))
        timed("report (JSON)", lambda r=report: report_json(r))
    return best


def check_file_of(raw: bytes) -> FileReport:
    """A report on bytes."""
    return check_bytes(raw, "a.mid", SETTINGS, RULES)


def growth() -> list[str]:
    """Print time per note by size; returns what falls short."""
    print("growth (µs a note)")
    per_note: dict[int, float] = {}
    for notes in GROWTH:
        raw = arrangement(notes)
        count = len(build(scan(raw, LIMITS)).notes)
        (took,) = least(9 if notes < 20_000 else 3, lambda raw=raw: check_file_of(raw))
        per_note[notes] = took / count * 1e6
        print(f"  {count:>8,} notes {took * 1e3:9.1f} ms {per_note[notes]:7.2f}")
    ratio = per_note[200_000] / per_note[2_000]
    print(f"  a note at 200,000 costs {ratio:.2f} times one at 2,000")
    return [f"growth: {ratio:.2f} times"] if ratio > MOST_GROWTH else []


def memory() -> None:
    """Print the peak of what a check allocates, against the size of the file."""
    print("memory (peak of what a check allocates, by tracemalloc)")
    bomb = b"\x00\x90\x24\x64" + b"\x00\x24\x00" * 700_000
    head = arrangement(1)[:14]
    cases = {f"{n:,} notes": arrangement(n) for n in (500, 8_000, 100_000)}
    cases["2 MB of three-byte events"] = (
        head[:10] + b"\0\1" + head[12:] + b"MTrk" + len(bomb).to_bytes(4, "big") + bomb
    )
    for name, raw in cases.items():
        tracemalloc.start()
        check_file_of(raw)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(
            f"  {name:28} {len(raw) / 1e6:6.2f} MB, peak {peak / 1e6:7.1f} MB, "
            f"{peak / len(raw):.0f}x"
        )


def cold_start(folder: Path) -> None:
    """Print how long whole commands take from nothing but compiled modules, and each import.

    In turn, as wall time and beside ``import pretty_midi``; the check anew, then from its cache.
    """
    print("cold start (ms, least of 5; beside the first)")
    own = ("PYTHONDONTWRITEBYTECODE", "OPENBLAS_NUM_THREADS")  # as users have it
    kept = {k: v for k, v in os.environ.items() if k not in own}
    environment = kept | {
        "PYTHONPATH": str(Path(basslint.__file__).parents[1]),
        "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
        "XDG_CACHE_HOME": str(folder / "cache"),
    }
    small = str(folder / "small.mid")
    commands = (
        ["-c", "import pretty_midi"],
        ["-m", "basslint", "--version"],
        ["-m", "basslint", "check", "--no-cache", small],
        ["-m", "basslint", "check", small],
    )

    def command(words: list[str]) -> None:
        subprocess.run([sys.executable, *words], env=environment, capture_output=True, check=False)

    for words in commands:
        command(words)  # compiles, and fills the cache
    took = least(5, *(partial(command, words) for words in commands))
    for words, seconds in zip(commands, took, strict=True):
        named = " ".join(w for w in words[1:] if w != small)
        print(f"  {named:24} {seconds * 1e3:7.0f}   {seconds / took[0]:.2f}")
    for module in ("numpy", "basslint.cli.main", "basslint.api", "basslint.report.formats.text"):
        listed = subprocess.run(
            [sys.executable, "-X", "importtime", "-c", f"import {module}"],
            env=environment, capture_output=True, text=True, check=True,
        ).stderr  # fmt: skip
        total = int(listed.strip().splitlines()[-1].split("|")[1])
        print(f"  import {module:24} {total / 1e3:7.0f}")


def main() -> int:
    """Measure all; exit code 1 where a bound is not held."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true")
    args = parser.parse_args()
    print(f"Python {sys.version.split()[0]}, numpy {np.__version__}, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        short = ratios(folder, args.quick)
        for name, notes in SIZES.items():
            steps = storeys(notes, 3 if notes > 50_000 else 11)
            listed = ", ".join(f"{step} {took * 1e3:.1f}" for step, took in steps.items())
            print(f"storeys of {name} (ms): {listed}")
        short += growth()
        memory()
        cold_start(folder)
    for line in short:
        print(f"falls short: {line}")
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
