"""Does any damaged file end in anything but a report or a typed error?

``python tests/bench/mutate.py --cases 200000 --data FOLDER`` damages samples (and the MIDI files of
a folder) in many small ways, most byte by byte and a sixth event by event, and puts each
through scan, song, chart, check and JSON; one in ``--mend-every`` is mended too, and what mending
writes must be readable and need no more mending. It lists every case that raised something
untyped, that a rule crashed on, that took over a second, or that drove the process over 500 MB.
Seconds are those of the process, so that a busy machine does not count. A case is named by its
seed and the sources: ``--seed S --cases 1 --keep FILE`` writes it out again. ``--jobs 2`` splits
the run; a long run may be split over ``--seed`` and ``--cases`` as well.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import resource
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from midi_bytes import chunk, header, meta, quantity

import basslint
from basslint.checking.book import book_for
from basslint.checking.mended import rechecker
from basslint.checking.one_file import check_bytes
from basslint.judging.results import FileReport
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.mending.turns import NOT_REACHED, Recheck
from basslint.report.formats.json_report import report_json
from basslint.smf.scan import scan

SAMPLES = Path(__file__).parents[2] / "samples"
SLOW_S, LARGE_KB = 1.0, 500 * 1024
_MOST_BYTES = 2 * 1024**3
_DELTAS = (0, 0, 1, 30, 480, 1920, 100_000, 0x0FFFFFFF)
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


@dataclass(frozen=True, slots=True)
class Source:
    """A whole file: its bytes, its division, and the events of its tracks with their deltas."""

    data: bytes
    division: int
    tracks: tuple[tuple[tuple[int, bytes], ...], ...]


def source_of(data: bytes) -> Source:
    """Take a good file apart; running status is written out, so that events can be moved."""
    read = scan(data)
    tracks = []
    for t in read.tracks:
        ticks = np.diff(t.tick, prepend=0).tolist()
        rows = zip(ticks, t.at.tolist(), t.stop.tolist(), t.status.tolist(), strict=True)
        tracks.append(
            tuple(
                (delta, (b"" if read.data[at] >= 0x80 else bytes((status,))) + read.data[at:stop])
                for delta, at, stop, status in rows
            )
        )
    return Source(data, read.division, tuple(tracks))


def rearrange(source: Source, rng: random.Random) -> bytes:
    """A well-formed file with odd contents: events moved, lost, doubled, changed, made up."""
    tracks = [list(t) for t in source.tracks]
    division = source.division
    for _ in range(rng.choice((1, 2, 4, 12))):
        events = rng.choice(tracks)
        kind = rng.randrange(9)
        if kind == 0:
            division = rng.choice((1, 2, 3, 24, 97, 960, 0x7FFF))
        elif kind == 1:
            tracks.insert(rng.randrange(len(tracks) + 1), list(rng.choice(tracks)))
        elif kind == 2:
            events.insert(rng.randrange(len(events) + 1), (rng.choice(_DELTAS), _made_up(rng)))
        elif events:
            at = rng.randrange(len(events))
            delta, event = events[at]
            if kind == 3:
                del events[at : at + rng.choice((1, 1, 5, 60))]
            elif kind == 4:
                events[at:at] = events[at : at + rng.choice((1, 4, 200))]
            elif kind == 5:
                events[at] = (rng.choice(_DELTAS), event)
            elif kind == 6 and event[0] < 0xF0:
                events[at] = (delta, bytes((event[0] & 0xF0 | rng.randrange(16), *event[1:])))
            elif kind == 7 and event[0] < 0xF0:
                data = [rng.choice((0, 1, 64, 127, rng.randrange(128))) for _ in event[1:]]
                events[at] = (delta, bytes((event[0], *data)))
            else:
                rng.shuffle(events)
    bodies = [b"".join(quantity(delta) + event for delta, event in t) for t in tracks]
    return header(1, len(bodies), division) + b"".join(chunk(b"MTrk", b) for b in bodies)


def _made_up(rng: random.Random) -> bytes:
    """An event that music rarely holds."""
    channel, data = rng.randrange(16), rng.randrange(128)
    return rng.choice(
        (
            meta(0x51, rng.choice((b"\0\0\1", b"\xff\xff\xff", b"\0\0\0", b"\1"))),
            meta(0x58, rng.choice((b"\1\6\x18\x08", b"\xff\0\x18\x08", b"\5\3", b"\0\0"))),
            meta(0x59, bytes((rng.randrange(256), rng.randrange(3)))),
            meta(rng.choice((3, 4, 6, 7)), rng.choice((b"\x1b[2J", b"\xe2\x80\xae", b"=1+1", b""))),
            bytes((0x90 | channel, data, rng.choice((0, 1, 127)))),
            bytes((0x80 | channel, data, 0)),
            bytes((0xE0 | channel, data, rng.choice((0, 64, 127)))),
            bytes((0xB0 | channel, rng.choice((5, 6, 38, 65, 84, 100, 101, 123)), data)),
            bytes((0xC0 | channel, data)),
        )
    )


def run(
    seeds: range, sources: list[Source], mend_every: int, keep: Path | None
) -> tuple[Counter[str], list[str]]:
    """Run the cases of some seeds; returns what they ended in, and the bad ones in words."""
    warnings.simplefilter("error")  # a warning would stand between the lines of a report
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))  # fail, not fill the machine
    settings = basslint.Settings()
    rules = settings.choose(book_for(settings))
    ended: Counter[str] = Counter()
    bad: list[str] = []

    def judged(data: bytes) -> FileReport:
        return check_bytes(data, "case.mid", settings, rules)

    for seed in seeds:
        rng = random.Random(seed)
        source = rng.choice(sources)
        data = mutate(source.data, rng) if seed % 6 else rearrange(source, rng)
        if keep:
            keep.write_bytes(data)
        begin = time.process_time()
        try:
            report = judged(data)
            report_json(basslint.Report((report,)))
            ended[report.problem.kind if report.problem else "checked"] += 1
            bad += [f"seed {seed}: {fault}" for fault in report.faults]
            bad += _too_slow(seed, "check", begin)
            if seed // 6 % mend_every == 0 and any(f.fix for f in report.findings):
                recheck = rechecker(Path("case.mid"), settings, rules)
                bad += [f"seed {seed}: {why}" for why in _mended(data, recheck, ended)]
        except basslint.BasslintError as error:
            ended[f"{type(error).__name__} raised"] += 1
        except Exception as error:
            at = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{Path(at.filename).name}:{at.lineno}"
            bad.append(f"seed {seed}: {type(error).__name__} at {place}: {error}")
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > LARGE_KB:
            bad.append(f"seed {seed}: the process passed 500 MB; stopping")
            break
    return ended, bad


def _too_slow(seed: int, what: str, begin: float) -> list[str]:
    took = time.process_time() - begin
    return [f"seed {seed}: {what} took {took:.2f} s"] if took > SLOW_S else []


def _mended(data: bytes, recheck: Recheck, ended: Counter[str]) -> Iterator[str]:
    """Mend a case with everything allowed, and the outcome again; yields what is wrong with it."""
    begin = time.process_time()
    result = mend(data, recheck, Choice(by_ear=True))
    took = time.process_time() - begin
    if took > SLOW_S:
        yield f"mend took {took:.2f} s"
    yield from result.after.faults
    stopped = any(left.why == NOT_REACHED for left in result.left)
    ended["… and mended" + (" in part, for want of turns" if stopped else "")] += 1
    if result.after.problem is not None:
        yield f"the mended file cannot be read: {result.after.problem.message}"
    elif stopped:
        return  # it says so, and that mending the copy goes on
    elif mend(result.data, recheck, Choice(by_ear=True)).data != result.data:
        yield "a mended file is mended again"


def main() -> int:
    """Run the cases and print the table; exit code 1 where a case is bad."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--mend-every", type=int, default=20)
    parser.add_argument("--largest", type=int, default=12_000, help="bytes of a file of --data")
    parser.add_argument("--data", type=Path, action="append", default=[])
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    files = sorted(SAMPLES.glob("*.mid"))
    for folder in args.data:
        files += sorted(p for p in folder.rglob("*.mid") if p.stat().st_size < args.largest)
    sources = [source_of(f.read_bytes()) for f in files]
    step = -(-args.cases // args.jobs)
    last = args.seed + args.cases
    pieces = [range(s, min(s + step, last)) for s in range(args.seed, last, step)]
    begin = time.perf_counter()
    if len(pieces) == 1:
        results = [run(pieces[0], sources, args.mend_every, args.keep)]
    else:
        with multiprocessing.get_context("fork").Pool(args.jobs) as pool:
            results = pool.starmap(run, [(p, sources, args.mend_every, None) for p in pieces])
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
