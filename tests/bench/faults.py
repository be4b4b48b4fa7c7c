"""How many faults are found in the right place and mended, and what is called off that is not?

    python tests/bench/faults.py --beats 40 [--first 0] [--data FOLDER] [--only RULE] [--show]

Clean generated beats: false findings (error and warning) per 100 bars. Beats with one fault each:
share found at the right place, other errors and warnings that the fault does not explain, share
that mending brings back. Everything mended: whether mending again changes a byte, and whether a
safe fix is left. ``--data`` mends every readable MIDI file of a folder, too.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from bench.beats import make_beat
from bench.fault_kinds import KINDS
from bench.fault_model import Fault, Want

from basslint.checking.one_file import check_bytes
from basslint.errors import MendError
from basslint.judging.results import FileReport, Finding
from basslint.mending.account import Choice, MendResult
from basslint.mending.mend import mend
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings
from basslint.song.arrangement import Song

Key = tuple[str, int, int, int | None]
BOOK = read_book()
SAMPLES = Path(__file__).parents[2] / "samples"


def judge_with(decay_s: float | None, cents: float | None = None) -> Callable[[bytes], FileReport]:
    """The whole check with the facts that go with a beat."""
    settings = Settings()
    facts = replace(settings.facts, decay_s=decay_s, sound_cents=cents)
    settings = replace(settings, facts=facts)
    return lambda data: check_bytes(data, "beat", settings, BOOK)


def key(finding: Finding) -> Key:
    """Rule and place of a finding."""
    track = finding.part.track if finding.part else -1
    return finding.rule, track, finding.where.tick, finding.pitch


@dataclass(slots=True)
class Tally:
    """What was counted for one rule."""

    put_in: int = 0
    found: int = 0
    unexplained: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    to_mend: int = 0
    mended: int = 0
    unmended: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Mended:
    """What became of everything that was mended."""

    files: int = 0
    edits: int = 0
    unstable: list[str] = field(default_factory=list)
    left_safe: list[str] = field(default_factory=list)
    undone: list[str] = field(default_factory=list)

    def add(self, name: str, data: bytes, recheck: Callable[[bytes], FileReport]) -> None:
        """Mend with every fix and with the safe ones, twice."""
        for choice in (Choice(), Choice(by_ear=True)):
            result = mend(data, recheck, choice)
            self.edits += sum(len(a.fix.edits) for a in result.applied)
            if mend(result.data, recheck, choice).data != result.data:
                self.unstable.append(name)
            self.undone += [f"{name}: {fault}" for fault in result.faults]
            self.left_safe += [
                f"{name} bar {left.finding.where.bar}: {left.finding.rule}: {left.why}"
                for left in result.left
                if left.finding.fix is not None and left.finding.fix.kind == "safe"
            ]
        self.files += 1


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--beats", type=int, default=40, help="beats per figure")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--data", type=Path, help="a folder of MIDI files to mend as well")
    parser.add_argument("--most", type=int, default=0, help="mend so many of its files at most")
    parser.add_argument("--only", action="append", default=[], help="faults of these rules alone")
    parser.add_argument("--show", action="store_true", help="list what went wrong")
    args = parser.parse_args()
    began = time.perf_counter()
    seeds = range(args.first, args.first + args.beats)
    mended = Mended()
    if not args.only:
        clean(seeds, mended, args.show)
    tallies = {
        rule: put_in(rule, args.first, args.beats)
        for rule in KINDS
        if not args.only or rule in args.only
    }
    print_tallies(tallies, args.show)
    if not args.only:
        for path in sorted(SAMPLES.glob("**/*.mid")):
            mended.add(path.name, path.read_bytes(), judge_with(None))
        print_mended("samples and generated beats", mended, args.show)
    if args.data:
        data_folder(args.data, args.most, args.show)
    print(f"\n{time.perf_counter() - began:.0f} s")


def clean(seeds: Iterable[int], mended: Mended, show: bool) -> None:
    """False findings on beats without a fault."""
    bars = 0
    false: Counter[tuple[str, str]] = Counter()
    for seed in seeds:
        beat = make_beat(seed)
        recheck = judge_with(beat.truth.decay_s)
        report = recheck(beat.data)
        bars += beat.bars
        for finding in report.findings:
            false[finding.level, finding.rule] += 1
            if show and finding.level != "note":
                print(f"  beat {seed} bar {finding.where.bar} {finding.rule}: {finding.message}")
        mended.add(f"beat {seed}", beat.data, recheck)
    loud = sum(n for (level, _), n in false.items() if level != "note")
    rate = 100 * loud / bars
    print(f"clean beats: {bars} bars, {loud} errors and warnings, {rate:.2f} per 100 bars")
    for (level, rule), count in sorted(false.items()):
        print(f"  {level:8} {rule:26} {count:4}  {100 * count / bars:5.2f} per 100 bars")


def put_in(rule: str, first: int, beats: int) -> Tally:
    """Put one fault of a rule into as many beats, passing over those with no place for it."""
    tally = Tally()
    for seed in range(first, first + 40 * beats):
        if tally.put_in == beats:
            break
        beat = make_beat(seed)
        fault = KINDS[rule](beat, random.Random(f"{rule} {seed}"))
        if fault is None:
            continue
        name = f"beat {seed} ({beat.truth.pattern}) bar {fault.start // beat.bar + 1}"
        tally.put_in += 1
        decay = fault.decay_s or beat.truth.decay_s
        before = judge_with(decay)(beat.data)
        recheck = judge_with(decay, fault.cents)
        report = recheck(fault.beat.data)
        own = [
            f
            for f in report.findings
            if f.rule in {rule, *fault.as_good} and at_the_place(f, fault)
        ]
        if own:
            tally.found += 1
        else:
            tally.missed.append(f"{name}: {told(report.findings)}{unjudged(report, rule)}")
        tally.unexplained += [
            f"{name}: {f.rule} in bar {f.where.bar}: {f.message}"
            for f in unexplained(before, report, fault)
        ]
        if fault.want is not None and own:
            tally.to_mend += 1
            result = mend(fault.beat.data, recheck, own_choice(fault))
            if comes_back(result, fault.want, fault):
                tally.mended += 1
            else:
                why = "; ".join(x.why for x in result.left if x.finding.rule == rule)
                done = "; ".join(a.fix.title for a in result.applied)
                tally.unmended.append(f"{name}: {done or 'nothing done'}; left: {why}")
    return tally


def own_choice(fault: Fault) -> Choice:
    """Mend for the fault alone."""
    return Choice(by_ear=True, only=frozenset({fault.rule, *fault.as_good}))


def at_the_place(finding: Finding, fault: Fault) -> bool:
    """Does a finding point at the fault?"""
    if fault.everywhere:
        return True
    return finding.where.tick <= fault.end and fault.start <= max(
        finding.where.end_tick, finding.where.tick
    )


def unexplained(before: FileReport, report: FileReport, fault: Fault) -> list[Finding]:
    """Errors and warnings that the clean beat has not and the fault does not explain."""
    old = {(f.rule, f.where.tick) for f in before.findings}
    result = []
    for finding in report.findings:
        explained = finding.rule in {fault.rule, *fault.explains} and at_the_place(finding, fault)
        if finding.level == "note" or explained or (finding.rule, finding.where.tick) in old:
            continue
        result.append(finding)
    return result


def comes_back(result: MendResult, want: Want, fault: Fault) -> bool:
    """Does the mended bass hold what the fault took away?"""
    assert result.after.chart is not None
    song: Song = result.after.chart.song
    track = next(i for i, t in enumerate(fault.beat.tracks) if t.role == want.role)
    place = fault.beat.tracks[track]
    part = next(
        p.number - 1
        for p in song.parts
        if p.channel == place.channel and (p.track == track + 1 or fault.beat.file_format == 0)
    )
    notes = song.notes_of(part)
    here = np.abs(notes.start - want.start) <= want.near
    if want.ends_at:
        starts = notes.start[:, None]
        return any(
            bool((np.abs(starts - (end - np.array(want.hits))) <= want.near).any(axis=0).all())
            for end in want.ends_at
        )
    if want.absent:
        return not bool((here & (notes.end - notes.start <= 2)).any())
    if want.pitch_class is not None:
        here &= notes.pitch % 12 == want.pitch_class
    if want.end is not None:
        here &= notes.end <= want.end
    return bool(here.any())


def told(findings: Sequence[Finding]) -> str:
    """The findings in a few words."""
    return ", ".join(f"{f.rule} bar {f.where.bar}" for f in findings[:4]) or "silent"


def unjudged(report: FileReport, rule: str) -> str:
    """Why a rule kept quiet."""
    reasons = {u.reason for u in report.unjudged if u.rule == rule}
    return f" (not judged: {'; '.join(sorted(reasons))})" if reasons else ""


def print_tallies(tallies: dict[str, Tally], show: bool) -> None:
    """One line a rule; with ``show`` every case that went wrong."""
    print(f"\n{'fault':26} {'put in':>6} {'found':>6} {'share':>6} {'others':>6} {'mended':>10}")
    for rule, t in tallies.items():
        share = f"{t.found / t.put_in:.3f}" if t.put_in else "-"
        mended = f"{t.mended}/{t.to_mend}" if t.to_mend else "-"
        print(f"{rule:26} {t.put_in:6} {t.found:6} {share:>6} {len(t.unexplained):6} {mended:>10}")
        if show:
            for title, cases in (
                ("missed", t.missed),
                ("unexplained", t.unexplained),
                ("not mended", t.unmended),
            ):
                for case in cases:
                    print(f"    {title}: {case}")
    wanted, done = sum(t.to_mend for t in tallies.values()), sum(t.mended for t in tallies.values())
    print(f"mended faults that come back to the truth: {done}/{wanted}", end="")
    print(f" = {done / wanted:.3f}" if wanted else "")


def print_mended(title: str, mended: Mended, show: bool) -> None:
    """Idempotence and what is left."""
    print(
        f"\n{title}: {mended.files} files mended, {mended.edits} edits; mending again changes "
        f"{len(mended.unstable)}; safe fixes left {len(mended.left_safe)}; "
        f"fixes undone {len(mended.undone)}"
    )
    if show:
        for line in (*mended.unstable, *mended.left_safe, *mended.undone):
            print(f"    {line}")


def data_folder(folder: Path, most: int, show: bool) -> None:
    """Mend the files of a folder; refused ones are counted."""
    mended, refused = Mended(), Counter[str]()
    recheck = judge_with(None)
    paths = sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".mid", ".midi"))
    if most:
        paths = paths[:: max(1, len(paths) // most)]
    for path in paths:
        try:
            mended.add(path.name, path.read_bytes(), recheck)
        except MendError as error:
            refused[error.message] += 1
    print_mended(str(folder.name), mended, show)
    for message, count in refused.most_common():
        print(f"  not read: {count} files: {message}")


if __name__ == "__main__":
    main()
