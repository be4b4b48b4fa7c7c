"""How well are parts told apart? Figures on the data sets beside the checkout.

Run as ``python tests/bench/hearing_parts.py DATA``. Truth on game-parts: General MIDI programs
33–40 (1-based) and, in the wider reading, track names that say bass. Names, programs and texts
are stripped from the bytes before the tool sees them; drums are measured on channel 10 and moved
to a free channel. Where basses are taken out to see whether another is claimed, the parts that
double them are, too.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import mido
import numpy as np

from basslint.hear.parts.parts import Parts, hear_parts
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

_TEXTS = {"track_name", "instrument_name", "program_change", "text", "copyright", "device_name"}
_SEED = 1
_DOUBLES, _DOUBLE_MEAN = 0.65, 60.0  # share of notes in common; mean pitch below C4


@dataclass(frozen=True, slots=True)
class Row:
    """One figure: what, value, how many songs, 95 % song-bootstrap interval, target if any."""

    what: str
    value: float
    songs: int
    low: float
    high: float
    target: str = ""


def _row(what: str, values: list[float], target: str = "") -> Row:
    column = np.array(values, dtype=float)
    rng = np.random.default_rng(_SEED)
    draws = column[rng.integers(0, len(column), (2000, len(column)))].mean(axis=1)
    low, high = np.percentile(draws, [2.5, 97.5])
    return Row(what, float(column.mean()), len(column), float(low), float(high), target)


def _song(raw: bytes) -> Song:
    return build(scan(raw))


def _bytes(midi: mido.MidiFile) -> bytes:
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


def strip(path: Path, without: set[tuple[int, int]], move_drums: bool, names: bool) -> bytes:
    """The file without the notes of some (track, channel) pairs, texts and programs hidden."""
    midi = mido.MidiFile(path, clip=True)
    used = {m.channel for t in midi.tracks for m in t if hasattr(m, "channel")}
    free = next((c for c in range(15, -1, -1) if c not in used), 15)
    for index, track in enumerate(midi.tracks):
        kept, carry = mido.MidiTrack(), 0
        for message in track:
            channel = getattr(message, "channel", -1)
            gone = message.type in _TEXTS and not names
            gone |= (index, channel + 1) in without and message.type.startswith("note")
            if gone:
                carry += message.time
                continue
            message = message.copy(time=message.time + carry)
            carry = 0
            kept.append(message.copy(channel=free) if move_drums and channel == 9 else message)
        midi.tracks[index] = kept
    return _bytes(midi)


def game_parts(data: Path, drums_moved: bool, names: bool) -> list[Row]:
    """Bass found, bass claimed after the basses were taken out, drums found."""
    found: dict[str, list[float]] = {"programs": [], "programs or names": []}
    claimed: dict[str, list[float]] = {"programs": [], "programs or names": []}
    drums: list[float] = []
    false_drums: list[float] = []
    for path in sorted((data / "game-parts").glob("*.mid")):
        open_song = _song(path.read_bytes())
        pairs = [(p.track, p.channel) for p in open_song.parts]
        pitched = [p for p in open_song.parts if p.channel != 10]
        program = {
            (p.track, p.channel) for p in pitched if p.program is not None and 32 <= p.program <= 39
        }
        named = {(p.track, p.channel) for p in pitched if _says_bass(p.track_name)}
        true = [i for i, key in enumerate(pairs) if key in program | named]
        doubles = {pairs[i] for i in doubles_of(open_song, true)}
        song = _song(strip(path, set(), drums_moved, names))
        parts = hear_parts(song)
        keys = [(p.track, p.channel) for p in song.parts]
        is_drum = np.array([k not in pairs or k[1] == 10 for k in keys])
        heard = np.isin(np.arange(len(keys)), parts.drums)
        drums.extend(heard[is_drum].astype(float))
        false_drums.extend(heard[~is_drum].astype(float))
        for reading, truth in (("programs", program), ("programs or names", program | named)):
            if not truth:
                continue
            found[reading].append(float(bool(parts.bass) and keys[parts.bass[0]] in truth))
            rest = _song(strip(path, program | named | doubles, drums_moved, names))
            claimed[reading].append(float(bool(hear_parts(rest).bass)))
    how = f"{'names shown' if names else 'hidden'}, drums {'moved' if drums_moved else 'on 10'}"
    rows = []
    for reading in found:
        rows.append(_row(f"bass found, {how} ({reading})", found[reading], "≥ .92"))
        rows.append(_row(f"bass claimed, none there, {how} ({reading})", claimed[reading], "≤ .15"))
    rows.append(_row(f"drum parts heard as drums, {how} (parts)", drums))
    rows.append(_row(f"pitched parts heard as drums, {how} (parts)", false_drums))
    return rows


def doubles_of(song: Song, basses: Sequence[int]) -> tuple[int, ...]:
    """Parts that strike 65 % of their notes along with a bass, in whatever octave."""
    notes = song.notes
    key = notes.start * 12 + notes.pitch % 12
    shared = np.isin(key, key[np.isin(notes.part, np.array(basses, dtype=int))])

    def doubles(part: int) -> bool:
        mine = notes.part == part
        return bool(shared[mine].mean() >= _DOUBLES and notes.pitch[mine].mean() < _DOUBLE_MEAN)

    return tuple(i for i in range(len(song.parts)) if i not in basses and doubles(i))


def _says_bass(name: str) -> bool:
    words = name.lower().replace(".", " ").split()
    return any("bass" in w or w in ("bas", "basu", "bs") for w in words)


def harmony_and_melody(data: Path) -> list[Row]:
    """pop-phrases, names and programs hidden: the chord track is harmony, the other melody."""
    right: list[float] = []
    for path in sorted((data / "pop-phrases").glob("*.mid")):
        open_song = _song(path.read_bytes())
        parts = hear_parts(_song(strip(path, set(), False, False)))
        want = ["harmony" if p.track_name == "chords" else "melody" for p in open_song.parts]
        right.append(float(list(parts.role) == want))
    return [_row("chords and melody told apart, names hidden", right)]


def added_bass(data: Path, step: int = 6) -> list[Row]:
    """pop-chords: the piano, and a bass that is wrong on purpose; both must get their roles."""
    kinds = ("pedal, once a bar", "roots + 1", "roots + 6")
    right: dict[str, list[float]] = {k: [] for k in kinds}
    alone: list[float] = []
    for path in sorted((data / "pop-chords").glob("*.mid"))[::step]:
        midi = mido.MidiFile(path)
        chords = _song(path.read_bytes())
        truth = next((p.number - 1 for p in chords.parts if p.track_name == "chords"), None)
        if truth is None:
            continue
        notes = chords.notes_of(truth)
        onset, first = np.unique(notes.start, return_index=True)
        end, low = notes.end[first], notes.pitch[first]
        lines = {"pedal, once a bar": None, "roots + 1": 1, "roots + 6": 6}
        index = chords.parts[truth].track
        for kind, shift in lines.items():
            if shift is None:
                bar = 4 * chords.division
                starts = np.arange(int(onset[0]), int(end[-1]), bar)
                events = [(int(s), int(s) + bar, 36) for s in starts]
            else:
                events = [
                    (int(s), int(e), 28 + (int(p) + shift - 28) % 12)
                    for s, e, p in zip(onset, end, low, strict=True)
                ]
            song = _song(_bytes(_with_bass(midi, index, events)))
            parts = hear_parts(song)
            piano = next(i for i, p in enumerate(song.parts) if p.channel != 2)
            ok = parts.harmony == (piano,) and parts.bass == (1 - piano,)
            right[kind].append(float(ok))
        parts = hear_parts(_song(_bytes(_with_bass(midi, index, []))))
        alone.append(float(parts.harmony == (0,) and not parts.bass))
    rows = [_row(f"piano is harmony, added bass is bass ({k})", v) for k, v in right.items()]
    return [*rows, _row("a piano alone is harmony, no bass claimed", alone)]


def _with_bass(
    midi: mido.MidiFile, chords: int, events: list[tuple[int, int, int]]
) -> mido.MidiFile:
    result = mido.MidiFile(ticks_per_beat=midi.ticks_per_beat)
    for index, track in enumerate(midi.tracks):
        kept, carry = mido.MidiTrack(), 0
        for message in track if index != chords else ():
            if message.type in _TEXTS or message.type == "key_signature":
                carry += message.time
            else:
                kept.append(message.copy(time=message.time + carry))
                carry = 0
        result.tracks.append(kept)
    line = mido.MidiTrack()
    edges = sorted([(s, 1, p) for s, _, p in events] + [(e, 0, p) for _, e, p in events])
    now = 0
    for tick, on, pitch in edges:
        line.append(
            mido.Message("note_on", channel=1, note=pitch, velocity=90 * on, time=tick - now)
        )
        now = tick
    result.tracks.append(line)
    return result


def speed(data: Path) -> list[Row]:
    """Milliseconds on the songs of 7,000 notes and more, best of five."""
    times: list[float] = []
    for path in sorted((data / "game-parts").glob("*.mid")):
        song = _song(path.read_bytes())
        if len(song.notes) >= 7000:
            times.append(min(_clock(song) for _ in range(5)) * 1000)
    return [_row("milliseconds, songs of 7,000–9,400 notes", times, "< 5")]


def _clock(song: Song) -> float:
    begin = perf_counter()
    _: Parts = hear_parts(song)
    return perf_counter() - begin


def rows(data: Path) -> list[Row]:
    """All figures of part hearing."""
    result: list[Row] = []
    for moved, names in ((True, False), (False, False), (False, True)):
        result += game_parts(data, moved, names)
    return [*result, *harmony_and_melody(data), *added_bass(data), *speed(data)]


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("../shared/data")
    if not folder.is_dir():
        sys.exit(f"No data at {folder}: pass the folder that holds game-parts and the others.")
    for row in rows(folder):
        interval = f"{row.low:.3f}–{row.high:.3f}"
        print(f"{row.what:72} {row.value:7.3f}  {interval:13} n={row.songs:<4} {row.target}")
