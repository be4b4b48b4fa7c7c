"""The truth of pop-chords: roots, keys and notes of one song, and what the tool may see of it."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import mido
import numpy as np
from numpy.typing import NDArray

from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.theory.names import SHARPS

Ints = NDArray[np.int64]

# Semitones above the root, in the order in which a set of pitch classes is named (Open
# Music Theory); a set that fits on its lowest note is named on it.
_SETS = (
    *((0, 4, 7), (0, 3, 7), (0, 4, 7, 10), (0, 3, 7, 10), (0, 4, 7, 11), (0, 3, 6), (0, 3, 6, 10)),
    *((0, 3, 6, 9), (0, 4, 8), (0, 5, 7), (0, 2, 7), (0, 4, 7, 9), (0, 3, 7, 9), (0, 5, 7, 10)),
)
# How each of these sets is written after its root in a lead sheet.
_SUFFIXES = (
    *("", "m", "7", "m7", "maj7", "dim", "m7b5"),
    *("dim7", "aug", "sus4", "sus2", "6", "m6", "7sus4"),
)
_PITCH_CLASS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_HIGH = 55  # G3
_JITTER_S = 0.06
_FAULTS = 0.2  # share of notes lost, and of false notes added


@dataclass(frozen=True, slots=True)
class Labelled:
    """Chords as columns ``start``, ``end``, ``root`` [c]; ``keys``: (tick, tonic, minor);
    ``notes`` int64 [n, 4]: start, end, pitch, velocity. ``bass``: lowest pitch of each chord;
    ``chords``: the notes of each, as ``notes``.
    """

    name: str
    start: Ints
    end: Ints
    root: Ints
    bass: Ints
    chords: tuple[Ints, ...]
    keys: tuple[tuple[int, int, bool], ...]
    notes: Ints
    meter: mido.MetaMessage
    tempo: mido.MetaMessage
    division: int

    def seconds_per_tick(self) -> float:
        return self.tempo.tempo / 1e6 / self.division

    def variant(self, name: str) -> Ints:
        """The notes ``all``, from G3 ``up``, or with ``faults`` of a transcription."""
        notes = self.notes
        if "faults" in name:
            notes = _faulty(notes, np.random.default_rng(int(self.name)), self.seconds_per_tick())
        return notes[notes[:, 2] >= _HIGH] if "up" in name else notes

    def song(self, notes: Ints, added: Ints | None = None) -> Song:
        """What the tool sees: the notes on track 1, those ``added`` (a bass) on track 2."""
        midi = mido.MidiFile(type=1, ticks_per_beat=self.division)
        midi.tracks.append(mido.MidiTrack([self.tempo, self.meter]))
        for channel, rows in enumerate([notes] if added is None else [notes, added]):
            midi.tracks.append(track_of(rows, channel))
        out = io.BytesIO()
        midi.save(file=out)
        return build(scan(out.getvalue()))


def labelled_songs(data: Path, step: int = 1, first: int = 0) -> Iterator[Labelled]:
    """Every ``step``-th song of ``data/pop-chords`` from a ``first`` on that has a chord track."""
    for path in sorted((data / "pop-chords").glob("*.mid"))[first::step]:
        midi = mido.MidiFile(path)
        lines = [notes_of(track) for track in midi.tracks]
        played = [line for line in lines if len(line)]
        if len(played) < 2:
            continue
        metas = [message for track in midi.tracks for message in track if message.is_meta]
        start, first = np.unique(played[1][:, 0], return_index=True)
        groups = np.split(played[1], first[1:])
        end = np.minimum([int(g[:, 1].max()) for g in groups], np.append(start[1:], 1 << 40))
        yield Labelled(
            name=path.stem,
            start=start,
            end=end,
            root=np.array([root_of(g[:, 2]) for g in groups]),
            bass=np.array([int(g[:, 2].min()) for g in groups]),
            chords=tuple(groups),
            keys=tuple(_keys(midi)),
            notes=played[0],
            meter=next(m for m in metas if m.type == "time_signature").copy(time=0),
            tempo=next(m for m in metas if m.type == "set_tempo").copy(time=0),
            division=midi.ticks_per_beat,
        )


def root_of(pitches: Ints) -> int:
    """Root of a block chord: on its lowest note where that fits, else the first set that does."""
    low = int(pitches.min()) % 12
    held = {int(p) % 12 for p in pitches}
    for root in (low, *sorted(held - {low})):
        if any({(root + tone) % 12 for tone in tones} == held for tones in _SETS):
            return root
    return low


def symbol_of(chord: Ints, root: int) -> str:
    """A block chord, [n, 4], over its root as a lead sheet writes it; the root alone if unnamed."""
    low, held = int(chord[:, 2].min()) % 12, {int(p) % 12 for p in chord[:, 2]}
    slash = f"/{SHARPS[low]}" if low != root else ""
    for tones, suffix in zip(_SETS, _SUFFIXES, strict=True):
        if {(root + tone) % 12 for tone in tones} == held:
            return SHARPS[root] + suffix + slash
    return SHARPS[root]


def notes_of(track: mido.MidiTrack) -> Ints:
    now, open_notes, rows = 0, {}, []
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity:
            open_notes.setdefault(message.note, []).append((now, message.velocity))
        elif message.type in ("note_on", "note_off") and open_notes.get(message.note):
            start, velocity = open_notes[message.note].pop(0)
            rows.append((start, now, message.note, velocity))
    return np.array(sorted(rows), dtype=np.int64).reshape(-1, 4)


def _keys(midi: mido.MidiFile) -> Iterator[tuple[int, int, bool]]:
    for track in midi.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "key_signature":
                name = message.key.removesuffix("m")
                shift = name.count("#") - name[1:].count("b")
                yield now, (_PITCH_CLASS[name[0]] + shift) % 12, message.key.endswith("m")


def _faulty(notes: Ints, rng: np.random.Generator, tick_s: float) -> Ints:
    """A fifth lost, a fifth of octaves and fifths of real notes added, onsets up to 60 ms off."""
    kept = notes[rng.random(len(notes)) > _FAULTS]
    false = kept[rng.random(len(kept)) < _FAULTS].copy()
    false[:, 2] += rng.choice([12, -12, 7, -7, 19], len(false))
    notes = np.concatenate((kept, false[(false[:, 2] >= 0) & (false[:, 2] < 128)]))
    notes[:, 0] += np.round(rng.uniform(-_JITTER_S, _JITTER_S, len(notes)) / tick_s).astype(
        np.int64
    )
    notes[:, 0] = np.maximum(notes[:, 0], 0)
    notes[:, 1] = np.maximum(notes[:, 1], notes[:, 0] + 1)
    return notes


def track_of(rows: Ints, channel: int) -> mido.MidiTrack:
    events = [(int(e), 0, int(p), 0) for _, e, p, _ in rows]
    events += [(int(s), 1, int(p), int(v)) for s, _, p, v in rows]
    track, now = mido.MidiTrack(), 0
    for tick, on, pitch, velocity in sorted(events):
        kind = "note_on" if on else "note_off"
        message = mido.Message(kind, channel=channel, note=pitch, velocity=velocity)
        track.append(message.copy(time=tick - now))
        now = tick
    return track
