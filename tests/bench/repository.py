"""How fast is a repository of beats checked? Three ratios, each measured within one run.

1,000 files, 950 small ones and 50 of 8,000 notes: two workers against one; a second run from the
cache against the first; and the start for one small file against the import of a library that reads
the same files. Ratios, because times tell of the machine. ``python tests/bench/repository.py
[FILES]`` writes the files to a temporary folder, measures, and exits with 1 where one falls short.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.beat_model import STEPS, Beat, Track, write
from bench.beats import make_beat

NOTES = 8_000
STARTS = 9  # of each command; the quickest counts, since all else is the machine's other work
TWO_WORKERS, FROM_CACHE, START = 1.7, 10.0, 1.5  # what must hold


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio, what it must be, and what it was made of."""

    name: str
    value: float
    bound: float
    at_least: bool
    parts: str

    @property
    def holds(self) -> bool:
        """Whether it is as good as it must be."""
        return self.value >= self.bound if self.at_least else self.value <= self.bound


def longer(beat: Beat, notes: int) -> Beat:
    """A beat played over and over until it has so many notes."""
    once = sum(len(track.notes) for track in beat.tracks)
    times = -(-notes // once)
    span = beat.bars * STEPS * (beat.division // 4)
    return write(
        replace(
            beat,
            bars=beat.bars * times,
            tracks=tuple(_repeated(track, times, span) for track in beat.tracks),
        )
    )


def _repeated(track: Track, times: int, span: int) -> Track:
    ends = [min(n.end, span) for n in track.notes]  # what rings on stops where it begins anew
    return replace(
        track,
        notes=tuple(
            replace(n, start=n.start + k * span, end=max(end, n.start + 1) + k * span)
            for k in range(times)
            for n, end in zip(track.notes, ends, strict=True)
        ),
        controls=tuple(
            replace(c, tick=c.tick + k * span) for k in range(times) for c in track.controls
        ),
    )


def write_repository(folder: Path, files: int) -> None:
    """Write ``files`` beats below a folder, one in twenty of them large."""
    for seed in range(files):
        beat = make_beat(seed)
        if seed % 20 == 10:
            beat = longer(beat, NOTES)
        home = folder / f"pack-{seed // 100:02d}"
        home.mkdir(parents=True, exist_ok=True)
        (home / f"beat-{seed:04d}.mid").write_bytes(beat.data)


def environment(folder: Path) -> dict[str, str]:
    """The environment of every command that is timed: compiled modules, a cache of its own."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return {
        **kept,
        "XDG_CACHE_HOME": str(folder / "cache"),
        "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
    }


def timed(words: list[str], env: dict[str, str]) -> float:
    """Seconds on the clock of one command."""
    start = time.perf_counter()
    done = subprocess.run(words, env=env, capture_output=True, text=True)
    took = time.perf_counter() - start
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(words)} ended with {done.returncode}: {done.stderr}")
    return took


def work_of(words: list[str], env: dict[str, str]) -> float:
    """Seconds of processor time of one command, which other programs hardly change."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, env=env, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def measure(folder: Path, files: int) -> list[Ratio]:
    """Measure all three."""
    beats = folder / "beats"
    write_repository(beats, files)
    env = environment(folder)
    check = [sys.executable, "-m", "basslint", "check"]
    small = str(next(beats.rglob("beat-0001.mid")))
    timed([*check, small], env)  # compiles
    whole = [*check, "--format", "json", str(beats)]
    one = timed([*whole, "--no-cache", "--jobs", "1"], env)
    two = timed([*whole, "--no-cache", "--jobs", "2"], env)
    first = timed([*whole, "--jobs", "2"], env)
    again = statistics.median(timed([*whole, "--jobs", "2"], env) for _ in range(3))
    library, start, cached = [], [], []
    for _ in range(STARTS):
        library.append(work_of([sys.executable, "-c", "import pretty_midi"], env))
        start.append(work_of([*check, "--no-cache", small], env))
        cached.append(work_of([*check, small], env))
    base = min(library)
    return [
        Ratio("two workers", one / two, TWO_WORKERS, True, f"{one:.2f} s to {two:.2f} s"),
        Ratio("from the cache", first / again, FROM_CACHE, True, f"{first:.2f} s to {again:.2f} s"),
        _start("start", min(start), base),
        _start("start, cached", min(cached), base),
    ]


def _start(name: str, seconds: float, base: float) -> Ratio:
    parts = f"{1000 * seconds:.0f} ms to {1000 * base:.0f} ms of processor time"
    return Ratio(name, seconds / base, START, False, parts)


def main() -> None:
    """Measure and tell."""
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    with tempfile.TemporaryDirectory() as folder:
        ratios = measure(Path(folder), files)
    for ratio in ratios:
        bound = f"{'at least' if ratio.at_least else 'at most'} {ratio.bound:g}"
        verdict = "holds" if ratio.holds else "FALLS SHORT"
        print(f"{ratio.name:<15} {ratio.value:6.2f} ({bound}) {verdict}: {ratio.parts}")
    sys.exit(not all(ratio.holds for ratio in ratios))


if __name__ == "__main__":
    main()
