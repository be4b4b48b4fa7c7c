"""Are wrong bass notes found where the harmony is a loop of sound? Beats over rendered loops.

    python tests/bench/loop_beats.py TRUTH [TRUTH ...] [--most 60] [--keys transcribed]

Each render of render_loops.py (folders TRUTH) becomes a beat: drums and a bass in MIDI, the loop as
its only harmony, played four times. The bass plays the root of each labelled chord; in one of the
four turns every eighth note or so is moved by a semitone. Printed: which share of the moved notes
is told (off-root, or one of the rules that speak for it), and how many of the others off-root
accuses, in 100 bars; once by errors and warnings, once by notes as well.

With ``--keys`` a MIDI part plays beside the loop, so that the two are heard together: ``written``
the loop's own notes from G3 up, ``half`` the same in every other turn, ``transcribed`` as a machine
writes them down: a fifth of them missing, a fifth more in octaves and fifths of real ones, onsets
up to 60 ms off.
"""

from __future__ import annotations

import argparse
import io
import json
from pathlib import Path
from typing import Any

import mido
import numpy as np

from basslint.checking.one_file import check_bytes
from basslint.hear.facts import Facts, StatedLoop
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings

TICKS, TURNS = 480, 4
LOWEST = 28  # E1
KEYS_FROM = 55  # G3: a part beside a bass
_MISSING, _ADDED, _RAGGED_S = 0.2, 0.2, 0.06
MOVED = 0.125  # share of the notes of one turn
_CONDITIONS = ("clean", "drums", "mixed", "vinyl", "detune", "varispeed", "reverb", "lofi")
_RULES = ("off-root", "outside-scale")


def bass_of(truth: dict[str, Any], rng: np.random.Generator) -> list[tuple[int, int, int, bool]]:
    """Notes (start, end in ticks, pitch, moved) of all turns."""
    notes, length = [], truth["beats"] * TICKS
    wrong_turn = int(rng.integers(0, TURNS))
    for turn in range(TURNS):
        for start, end, root, *_ in truth["chords"]:
            if root is None or end - start < 0.5:
                continue
            pitch = LOWEST + (root - LOWEST) % 12
            moved = turn == wrong_turn and end - start >= 1.0 and rng.random() < MOVED
            if moved:
                pitch += int(rng.choice([-1, 1]))
            at = turn * length
            notes.append((at + round(start * TICKS), at + round(end * TICKS), pitch, moved))
    return notes


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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("truth", nargs="+", type=Path)
    parser.add_argument("--most", type=int, default=60)
    parser.add_argument("--keys", choices=("written", "half", "transcribed"))
    args = parser.parse_args()
    paths = [
        path
        for folder in args.truth
        for path in sorted(folder.glob("*.json"))
        if path.stem.rsplit("-", 1)[1] in _CONDITIONS
    ]
    order = np.random.default_rng(1).permutation(len(paths))[: args.most]
    book = [rule for rule in read_book() if rule.name in _RULES]
    bars = moved = judged = 0
    found, false = {"warning": 0, "note": 0}, {"warning": 0, "note": 0}
    for index in order.tolist():
        truth = json.loads(paths[index].read_text())
        rng = np.random.default_rng([7, index])
        notes = bass_of(truth, rng)
        loop = StatedLoop(
            file=str(paths[index].with_suffix(".wav")),
            bars=truth["bars"],
            begins_s=truth["offset_s"] or None,
        )
        settings = Settings(facts=Facts(loops=(loop,), bass=("Sub",)))
        keys = keys_of(truth, args.keys, rng) if args.keys else []
        report = check_bytes(beat(truth, notes, keys), "beat.mid", settings, book)
        assert report.problem is None, report.problem
        assert not report.faults, report.faults
        bars += truth["bars"] * TURNS
        wrong = {start for start, _, _, m in notes if m}
        moved += len(wrong)
        for level in found:
            told = [f for f in report.findings if level == "note" or f.level != "note"]
            at = {place.tick for f in told for place in (f.where, *f.also)}
            off = {place.tick for f in told if f.rule == "off-root" for place in (f.where, *f.also)}
            found[level] += len(wrong & at)
            false[level] += len(off - wrong)
        judged += 1
    for level in found:
        share, rate = found[level] / max(moved, 1), 100 * false[level] / bars
        print(
            f"{level:8} {judged} beats, {bars} bars: {found[level]} of {moved} told ({share:.3f})"
        )
        print(f"{'':8} off-root wrongly {rate:.2f} in 100 bars")


if __name__ == "__main__":
    main()
