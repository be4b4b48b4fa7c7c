"""Are wrong bass notes found where the harmony is a loop of sound? Beats over rendered loops.

    python tests/bench/loop_beats.py TRUTH [TRUTH ...] [--most 60] [--seed 1] [--pasted] [--each]
        [--keys transcribed]

Each render of render_loops.py (folders TRUTH) becomes a beat: drums and a bass in MIDI, the loop as
its only harmony, played four times. The bass plays the root of each labelled chord; in one of the
four turns every eighth note or so is moved by a semitone. Printed: which share of the moved notes
is told (off-root, or one of the rules that speak for it), and how many of the others off-root
accuses, in 100 bars; once by errors and warnings, once by notes as well. ``--pasted`` moves the
same notes in all four turns, as a mistake that was pasted with its loop; ``--each`` names the beats
in which a right note is accused or a moved one is missed; ``--seed`` draws other beats.

With ``--keys`` a MIDI part plays beside the loop, so that the two are heard together: ``written``
the loop's own notes from G3 up, ``half`` the same in every other turn, ``transcribed`` as a machine
writes them down: a fifth of them missing, a fifth more in octaves and fifths of real ones, onsets
up to 60 ms off.
"""

from __future__ import annotations

import argparse
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import mido
import numpy as np

from basslint.checking.one_file import check_bytes
from basslint.hear.facts import Facts, StatedLoop
from basslint.rulebook.loader import read_book
from basslint.rulebook.model import Rule
from basslint.settings.model import Settings

TICKS, TURNS = 480, 4
LOWEST = 28  # E1
KEYS_FROM = 55  # G3: a part beside a bass
_MISSING, _ADDED, _RAGGED_S = 0.2, 0.2, 0.06
MOVED = 0.125  # share of the notes of one turn
_CONDITIONS = ("clean", "drums", "mixed", "vinyl", "detune", "varispeed", "reverb", "lofi")
LEVELS = ("warning", "note")
_RULES = ("off-root", "outside-scale")


def bass_of(
    truth: dict[str, Any], rng: np.random.Generator, pasted: bool = False
) -> list[tuple[int, int, int, bool]]:
    """Notes (start, end in ticks, pitch, moved) of all turns; ``pasted``: moved in all alike."""
    notes, length = [], truth["beats"] * TICKS
    wrong_turn = int(rng.integers(0, TURNS))
    far = {}
    for turn in range(TURNS):
        for row, (start, end, root, *_) in enumerate(truth["chords"]):
            if root is None or end - start < 0.5:
                continue
            pitch = LOWEST + (root - LOWEST) % 12
            if turn == wrong_turn and end - start >= 1.0 and rng.random() < MOVED:
                far[row] = int(rng.choice([-1, 1]))
            at = turn * length
            notes.append((turn, row, at + round(start * TICKS), at + round(end * TICKS), pitch))
    return [
        (start, end, pitch + far.get(row, 0), True)
        if row in far and (pasted or turn == wrong_turn)
        else (start, end, pitch, False)
        for turn, row, start, end, pitch in notes
    ]


def keys_of(
    truth: dict[str, Any], kind: str, rng: np.random.Generator
) -> list[tuple[int, int, int]]:
    """Notes (start, end in ticks, pitch) of a part that plays along with the loop."""
    notes, length = [], truth["beats"] * TICKS
    ragged = _RAGGED_S * truth["bpm"] / 60.0
    for turn in range(0, TURNS, 2 if kind == "half" else 1):
        for start, end, pitch, _ in truth["notes"]:
            if pitch < KEYS_FROM or end <= 0 or start >= truth["beats"]:
                continue
            if kind == "transcribed":
                if rng.random() < _MISSING:
                    continue
                late = rng.uniform(-ragged, ragged)
                start, end = start + late, end + late
                if rng.random() < _ADDED:
                    far = int(rng.choice([-12, 12, 7, -5]))
                    notes.append((turn * length + start * TICKS, turn * length + end * TICKS,
                                  int(pitch) + far))  # fmt: skip
            notes.append((turn * length + start * TICKS, turn * length + end * TICKS, int(pitch)))
    rounded = [(max(round(a), 0), round(b), p) for a, b, p in notes]
    return _without_overlaps([n for n in rounded if n[1] > n[0]])


def _without_overlaps(notes: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """The notes with none struck while its key is held: it ends where the key is struck again."""
    kept: list[tuple[int, int, int]] = []
    last: dict[int, int] = {}
    for start, end, pitch in sorted(notes):
        before = last.get(pitch)
        if before is not None and kept[before][1] > start:
            if kept[before][0] == start:
                continue
            kept[before] = (kept[before][0], start, pitch)
        last[pitch] = len(kept)
        kept.append((start, end, pitch))
    return kept


def beat(
    truth: dict[str, Any],
    notes: list[tuple[int, int, int, bool]],
    keys: list[tuple[int, int, int]],
) -> bytes:
    """Bass, drums and what plays along as a Standard MIDI File."""
    numerator, denominator = truth["meter"]
    head = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=round(60e6 / truth["bpm"]))])
    meter = {"numerator": numerator, "denominator": denominator}
    head.append(mido.MetaMessage("time_signature", **meter))
    drums = [
        (b * TICKS, b * TICKS + 60, 38 if b % 2 else 36) for b in range(truth["beats"] * TURNS)
    ]
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    midi.tracks.append(head)
    parts = [("Sub", 0, [n[:3] for n in notes]), ("Drums", 9, drums)]
    if keys:
        parts.append(("Keys", 1, keys))
    for name, channel, rows in parts:
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        events = sorted([(s, 1, p) for s, _, p in rows] + [(e, 0, p) for _, e, p in rows])
        now = 0
        for tick, on, pitch in events:
            kind = "note_on" if on else "note_off"
            track.append(
                mido.Message(kind, note=pitch, velocity=100, channel=channel, time=tick - now)
            )
            now = tick
        midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


@dataclass(frozen=True)
class Beat:
    """One beat: its render, its bars, ticks of moved notes, and where each level tells what."""

    name: str
    bars: int
    moved: frozenset[int]
    told: dict[str, frozenset[int]]  # by level, "note" for all: ticks of what is told
    off: dict[str, frozenset[int]]  # the same of off-root alone


def judged(path: Path, index: int, args: argparse.Namespace, book: list[Rule]) -> Beat:
    """The beat over one render, checked."""
    truth = json.loads(path.read_text())
    rng = np.random.default_rng([6 + args.seed, index])
    notes = bass_of(truth, rng, args.pasted)
    begins = truth["offset_s"] or None
    loop = StatedLoop(file=str(path.with_suffix(".wav")), bars=truth["bars"], begins_s=begins)
    settings = Settings(facts=Facts(loops=(loop,), bass=("Sub",)))
    keys = keys_of(truth, args.keys, rng) if args.keys else []
    report = check_bytes(beat(truth, notes, keys), "beat.mid", settings, book)
    assert report.problem is None, report.problem
    assert not report.faults, report.faults
    told, off = {}, {}
    for level in LEVELS:
        rows = [
            (place.tick, f.rule)
            for f in report.findings
            if level == "note" or f.level != "note"
            for place in (f.where, *f.also)
        ]
        told[level] = frozenset(tick for tick, _ in rows)
        off[level] = frozenset(tick for tick, rule in rows if rule == "off-root")
    moved = frozenset(start for start, _, _, wrong in notes if wrong)
    return Beat(path.stem, truth["bars"] * TURNS, moved, told, off)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("truth", nargs="+", type=Path)
    parser.add_argument("--most", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pasted", action="store_true")
    parser.add_argument("--each", action="store_true")
    parser.add_argument("--keys", choices=("written", "half", "transcribed"))
    args = parser.parse_args()
    paths = [
        path
        for folder in args.truth
        for path in sorted(folder.glob("*.json"))
        if path.stem.rsplit("-", 1)[1] in _CONDITIONS
    ]
    order = np.random.default_rng(args.seed).permutation(len(paths))[: args.most]
    book = [rule for rule in read_book() if rule.name in _RULES]
    beats = [judged(paths[index], index, args, book) for index in order.tolist()]
    bars, moved = sum(b.bars for b in beats), sum(len(b.moved) for b in beats)
    for b in beats if args.each else []:
        wrongly, missed = b.off["warning"] - b.moved, b.moved - b.told["warning"]
        if wrongly or missed:
            print(f"{b.name}: {len(wrongly)} wrongly told, {len(missed)} missed of {len(b.moved)}")
    for level in LEVELS:
        found = sum(len(b.moved & b.told[level]) for b in beats)
        rate = 100 * sum(len(b.off[level] - b.moved) for b in beats) / bars
        share = found / max(moved, 1)
        print(f"{level:8} {len(beats)} beats, {bars} bars: {found} of {moved} told ({share:.3f})")
        print(f"{'':8} off-root wrongly {rate:.2f} in 100 bars")


if __name__ == "__main__":
    main()
