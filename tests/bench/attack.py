"""Does anything that a stranger may hand over end in more than a sentence?

``python tests/bench/attack.py --cases 200000 --kills 200 --waives 100`` puts damaged songs, sounds,
loops, settings, rule pages, reports, cache entries and words through the commands that read them
(`attack_cases`), each case named by its seed (``--seed S --cases 1 --keep FOLDER`` leaves its files
there). A case is bad when its exit code is not 0 to 2, when it takes over a second of CPU per
100 kB of input (one second at least), or when the process passes 500 MB. CPU time grows when others
use the same cores, so that a case which seems slow is run twice more and the least time counts.
Then runs are killed at random moments, and many waive at once (`attack_runs`). The slowest cases
are listed; ``--without html`` leaves out cases that have a word in their command.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy comes: its idle threads would be counted

import argparse
import atexit
import random
import resource
import shutil
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import attack_cases as given
from attack_runs import kills, waives

SLOW_S, PER_BYTES, LARGE_KB = 1.0, 100_000, 500 * 1024
MOST_SLOWEST, TRIES = 12, 3


@dataclass(slots=True)
class Tally:
    """How cases ended, the bad ones in words, and the slowest: seconds per bound, and words."""

    ended: Counter[str] = field(default_factory=Counter)
    bad: list[str] = field(default_factory=list)
    slowest: list[tuple[float, str]] = field(default_factory=list)
    full: bool = False

    def note(self, share: float, words: str) -> None:
        self.slowest = sorted((*self.slowest, (share, words)), reverse=True)[:MOST_SLOWEST]


@dataclass(frozen=True, slots=True)
class Ending:
    """What became of one case."""

    words: list[str]
    code: int
    told: str
    took_s: float
    size: int


def tried(seed: int, leave_out: frozenset[str], keep: Path | None = None) -> Ending | None:
    """Run the case of a seed; None where it is left out."""
    with given.own_folder(seed) as folder:
        words = given.case(random.Random(seed), folder)
        if leave_out & set(words):
            return None
        size = sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())
        if keep:
            shutil.copytree(folder, keep, dirs_exist_ok=True)
        begin = time.process_time()
        try:
            code, told = given.run(words)
        except SystemExit as error:  # argparse's own
            code, told = int(error.code or 0), ""
        except BaseException as error:
            code, told = 99, f"{type(error).__name__}: {error}"
        return Ending(words, code, told, time.process_time() - begin, size)


def cases(
    seeds: range, slow_s: float, leave_out: frozenset[str], keep: Path | None, tally: Tally
) -> None:
    """Run the cases of some seeds into a tally."""
    for seed in seeds:
        ending = tried(seed, leave_out, keep)
        if ending is None:
            tally.ended["left out"] += 1
            continue
        words = " ".join(w for w in ending.words if not w.startswith("/"))
        name = f"seed {seed}: {words[:120]!r}"
        tally.ended[f"{ending.words[0]} {ending.code}"] += 1
        handed_on = ending.words[0] == "merge" and not ending.told  # the report tells of a fault
        if ending.code not in ((0, 1, 2, 3) if handed_on else (0, 1, 2)):
            tally.bad.append(f"{name}: exit {ending.code}: {ending.told[-300:]!r}")
        bound, took = max(ending.size / PER_BYTES, 1.0), ending.took_s
        for _ in range(TRIES - 1):
            if took > slow_s * bound:
                again = tried(seed, leave_out)
                took = min(took, again.took_s if again else took)
        tally.note(took / bound, f"{took:.2f} s for {ending.size:,} bytes, {name}")
        if took > slow_s * bound:
            tally.bad.append(f"{name}: {took:.2f} s for {ending.size:,} bytes")
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > LARGE_KB:
            tally.bad.append(f"{name}: the process passed 500 MB; stopping")
            tally.full = True
            break


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=200_000)
    parser.add_argument("--seconds", type=float, default=0.0, help="stop the cases after so long")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--waives", type=int, default=0)
    parser.add_argument("--slow", type=float, default=SLOW_S, help="seconds of CPU that are bad")
    parser.add_argument("--without", action="append", default=[], metavar="WORD")
    parser.add_argument("--keep", type=Path)
    return parser.parse_args()


def main() -> int:
    """Run what was asked for, and list what is bad; exit code 1 where anything is."""
    args = _asked()
    given.made_once()
    atexit.register(given.take_away)
    tally, begin, done = Tally(), time.monotonic(), 0
    while done < args.cases and not tally.full:
        if args.seconds and time.monotonic() - begin > args.seconds:
            break
        step = min(20, args.cases - done)
        first = args.seed + done
        seeds = range(first, first + step)
        cases(seeds, args.slow, frozenset(args.without), args.keep, tally)
        done += step
    print(f"{done:,} cases from seed {args.seed}: {dict(sorted(tally.ended.items()))}")
    for _, words in tally.slowest:
        print(f"  slowest: {words}")
    parts: list[tuple[str, int, Callable[[int, int], list[str]]]] = [
        ("kills", args.kills, kills),
        ("waives", args.waives, waives),
    ]
    for name, count, part in parts:
        if count:
            found = part(count, args.seed)
            print(f"{count} {name}: {len(found)} bad")
            tally.bad += found
    print(f"bad: {len(tally.bad)}")
    for line in tally.bad[:60]:
        print(f"  {line}")
    return 1 if tally.bad else 0


if __name__ == "__main__":
    sys.exit(main())
