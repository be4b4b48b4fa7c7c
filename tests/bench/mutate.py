"""Does any damaged file end in anything but a report or a typed error?

``python tests/bench/mutate.py --cases 200000 --data FOLDER`` damages samples (and the MIDI files of
a folder) in many small ways and puts each through scan, song, chart, check, JSON and, where fixes
are offered, mend. It lists every case that raised something untyped, that a rule crashed on, that
took over a second, or that drove the process over 500 MB. A case is named by its seed:
``--seed S --cases 1 --keep FILE`` writes it out again. ``--jobs 2`` splits the run.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import resource
import sys
import time
from collections import Counter
from pathlib import Path

import basslint
from basslint.api import book_for, check_bytes
from basslint.report.json_report import report_json

SAMPLES = Path(__file__).parents[2] / "samples"
SLOW_S, LARGE_KB = 1.0, 500 * 1024
_EDGES = (0x00, 0x7F, 0x80, 0xFF, 0xF0, 0xF7, 0x90, 0x80, 0xE0, 0xB0, 0x2F, 0x51, 0x58)


def mutate(data: bytes, rng: random.Random) -> bytes:
    """A few small damages: bits, edge bytes, cuts, repeats, foreign chunks, huge quantities."""
    body = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        if not body:
            break
        at = rng.randrange(len(body))
        kind = rng.randrange(9)
        if kind == 0:
            body[at] ^= 1 << rng.randrange(8)
        elif kind == 1:
            body[at] = rng.choice(_EDGES)
        elif kind == 2:
            del body[at : at + rng.randrange(1, 9)]
        elif kind == 3:
            body[at:at] = bytes(rng.choice(_EDGES) for _ in range(rng.randrange(1, 6)))
        elif kind == 4:
            body = body[:at]
        elif kind == 5:
            stop = at + rng.randrange(1, 200)
            body[at:at] = body[at:stop]
        elif kind == 6:
            body[at : at + 4] = b"\xff\xff\xff\x7f"
        elif kind == 7:
            body[at:at] = rng.choice((b"MTrk", b"MThd", b"junk")) + bytes(4)
        else:
            head = rng.randrange(8, 14)
            if head < len(body):
                body[head] = rng.randrange(256)
    return bytes(body)


def run(seeds: range, sources: list[bytes], keep: Path | None) -> tuple[Counter[str], list[str]]:
    """Run the cases of some seeds; returns what they ended in, and the bad ones in words."""
    settings = basslint.Settings()
    rules = settings.choose(book_for(settings))
    ended: Counter[str] = Counter()
    bad: list[str] = []
    for seed in seeds:
        rng = random.Random(seed)
        data = mutate(rng.choice(sources), rng)
        if keep:
            keep.write_bytes(data)
        begin = time.perf_counter()
        try:
            report = check_bytes(data, "case.mid", settings, rules)
            report_json(basslint.Report((report,)))
            ended[report.problem.kind if report.problem else "checked"] += 1
            bad += [f"seed {seed}: {fault}" for fault in report.faults]
        except basslint.BasslintError as error:
            ended[f"{type(error).__name__} raised"] += 1
        except Exception as error:
            bad.append(f"seed {seed}: {type(error).__name__}: {error}")
        took = time.perf_counter() - begin
        if took > SLOW_S:
            bad.append(f"seed {seed}: took {took:.2f} s")
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > LARGE_KB:
            bad.append(f"seed {seed}: the process passed 500 MB; stopping")
            break
    return ended, bad


def main() -> int:
    """Run the cases and print the table; exit code 1 where a case is bad."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--data", type=Path, action="append", default=[])
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    files = sorted(SAMPLES.glob("*.mid"))
    for folder in args.data:
        files += sorted(p for p in folder.rglob("*.mid") if p.stat().st_size < 200_000)
    sources = [f.read_bytes() for f in files]
    step = -(-args.cases // args.jobs)
    last = args.seed + args.cases
    pieces = [range(s, min(s + step, last)) for s in range(args.seed, last, step)]
    begin = time.perf_counter()
    if len(pieces) == 1:
        results = [run(pieces[0], sources, args.keep)]
    else:
        with multiprocessing.get_context("fork").Pool(args.jobs) as pool:
            results = pool.starmap(run, [(p, sources, None) for p in pieces])
    ended: Counter[str] = Counter()
    bad: list[str] = []
    for counts, words in results:
        ended += counts
        bad += words
    took = time.perf_counter() - begin
    print(f"{args.cases:,} cases over {len(sources)} files in {took:.0f} s")
    for kind, count in ended.most_common():
        print(f"  {count:>8,}  {kind}")
    print(f"bad: {len(bad)}")
    for line in bad[:40]:
        print(f"  {line}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
