"""Are right bass lines explained note by note, and wrong ones not?

Run as ``python tests/bench/hearing_pattern.py DATA``. On pop-chords a bass is added to the piano:
the labelled chord's own bass, the same shifted, and a pedal; share of its time by function.
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import mido
import numpy as np
from hearing_parts import Row, _bytes, _row, _song, _with_bass

from basslint.hear.bassline.functions import FUNCTIONS, note_functions
from basslint.hear.bassline.pattern import hear_pattern
from basslint.hear.harmony.cover import chord_rows
from basslint.hear.harmony.roots import hear_roots
from basslint.hear.key.keys import hear_keys
from basslint.hear.parts.parts import hear_parts

_LINES = {"the chords' own bass": 0, "a semitone off": 1, "a tone off": 2, "a tritone off": 6}


def rows(data: Path, step: int = 6) -> list[Row]:
    """Share of the added bass's time that some function explains, per line."""
    explained: dict[str, list[float]] = {name: [] for name in (*_LINES, "tonic pedal")}
    for path in sorted((data / "pop-chords").glob("*.mid"))[::step]:
        midi = mido.MidiFile(path)
        labelled = _song(path.read_bytes())
        labels = labelled.parts[-1]  # the labels are the last track
        notes = labelled.notes_of(labels.number - 1)
        onset, first = np.unique(notes.start, return_index=True)
        end, low = notes.end[first], notes.pitch[first]
        piano = _song(_bytes(_with_bass(midi, labels.track, [])))
        tonic = int(hear_keys(piano, (0,), hear_roots(piano, (0,))).tonic[0])
        bar = 4 * piano.division
        lines = {
            name: [
                (int(s), int(e), 28 + (int(p) + shift - 28) % 12)
                for s, e, p in zip(onset, end, low, strict=True)
            ]
            for name, shift in _LINES.items()
        }
        starts = range(int(onset[0]), int(end[-1]), bar)
        lines["tonic pedal"] = [(s, s + bar, 28 + (tonic - 28) % 12) for s in starts]
        for name, events in lines.items():
            song = _song(_bytes(_with_bass(midi, labels.track, events)))
            parts = hear_parts(song)
            roots = hear_roots(song, parts.harmony)
            keys = hear_keys(song, parts.harmony, roots)
            bass = song.notes_of(*parts.bass)
            phrases = SimpleNamespace(start_bar=np.array([0]), end_bar=np.array([song.grid.bars]))
            chords = chord_rows(bass, roots, song.division)
            pattern = hear_pattern(song, bass, roots, chords, phrases)  # type: ignore[arg-type]
            function = note_functions(song, bass, roots, chords, keys, lambda known=pattern: known)
            weight = (bass.end - bass.start).astype(float)
            other = function == FUNCTIONS.index("other")
            explained[name].append(1.0 - float(weight[other].sum() / weight.sum()))
    return [_row(f"bass time explained: {name}", values) for name, values in explained.items()]


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("../shared/data")
    if not folder.is_dir():
        sys.exit(f"No data at {folder}: pass the folder that holds pop-chords and the others.")
    for row in rows(folder):
        print(f"{row.what:50} {row.value:6.3f}  {row.low:.3f}–{row.high:.3f} n={row.songs}")
