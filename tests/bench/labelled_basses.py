"""Is the bass of real songs found when nothing says which part it is? Figures on any folder.

Run as ``python tests/bench/labelled_basses.py FOLDER [STEP]`` (every STEP-th song). FOLDER holds
MIDI files at any depth; songs.csv in it, if any, gives folds. Truth is what the files say: General
MIDI programs 33–40 (from 1), or the name of a track with one part that says bass, on parts of 16
notes and more whose mean pitch lies below G3, channel 10 left out. Names and programs are hidden
before parts are heard. A part that strikes 65 % of its notes along with a labelled bass, in
whatever octave, doubles it: to claim it is no false bass. Nor is it one to claim a busier part that
plays 65 % of the notes of the bass as its lowest, with others between them: of lines that play the
same the busier carries the bass (`hear/parts/basses.py`). Both counts are printed.
"""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from zlib import crc32

import numpy as np
from hearing_parts import _DOUBLES, Row, _row, doubles_of
from numpy.typing import NDArray

from basslint.errors import BasslintError
from basslint.hear.parts.parts import hear_parts
from basslint.judging.hits import SURE_BASS
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.theory.general_midi import BASSES, DRUM_CHANNEL

FOLDS = 5
_SAYS = re.compile(r"bass(?!oo?n)|808|sub\b", re.I)  # a bassoon is none
_SAYS_NOT = re.compile(r"drum|pedal|lead|kick", re.I)
_LEAST_NOTES, _HIGHEST_MEAN = 16, 55.0  # fewer are an effect, and what lies above G3 plays a tune


@dataclass(frozen=True, slots=True, eq=False)
class Labelled:
    """A song with its names and programs, its labelled basses, and the parts that double them."""

    path: str
    fold: int
    song: Song
    basses: tuple[int, ...]
    doubles: tuple[int, ...]


def labelled(folder: Path, step: int = 1) -> Iterator[Labelled]:
    """The songs of a folder that can be read, in order of their names."""
    folds = _folds(folder)
    files = (f for d in sorted(folder.iterdir()) for f in (d.rglob("*.mid") if d.is_dir() else [d]))
    for path in sorted(f for f in files if f.suffix == ".mid")[::step]:
        try:
            song = build(scan(path.read_bytes()))
        except BasslintError:
            continue
        name = str(path.relative_to(folder))
        basses = tuple(i for i in range(len(song.parts)) if _is_labelled(song, i))
        fold = folds.get(name, crc32(path.stem.encode()) % FOLDS)
        yield Labelled(name, fold, song, basses, doubles_of(song, basses))


def _folds(folder: Path) -> dict[str, int]:
    table = folder / "songs.csv"
    if not table.exists():
        return {}
    with table.open(newline="") as lines:
        return {row["path"]: int(row["fold"]) for row in csv.DictReader(lines)}


def _is_labelled(song: Song, index: int) -> bool:
    part = song.parts[index]
    alone = sum(p.track == part.track for p in song.parts) == 1
    named = alone and _SAYS.search(part.track_name) and not _SAYS_NOT.search(part.track_name)
    pitch = song.notes.pitch[song.notes.part == index]
    says = part.program in BASSES or bool(named)
    big = len(pitch) >= _LEAST_NOTES and bool(pitch.mean() < _HIGHEST_MEAN)
    return says and part.channel != DRUM_CHANNEL and big


def plays_line_of(song: Song, part: int, basses: tuple[int, ...]) -> bool:
    """Whether a part's lowest notes are most of what a bass plays, in whatever octave."""
    mine = _lowest(song, part)
    return any(np.isin(_lowest(song, bass), mine).mean() >= _DOUBLES for bass in basses)


def _lowest(song: Song, part: int) -> NDArray[np.int64]:
    """Start and pitch class of the lowest note of each onset of a part, as one number."""
    notes = song.notes_of(part)
    start, first = np.unique(notes.start, return_index=True)
    return np.asarray(start * 12 + notes.pitch[first].astype(np.int64) % 12)


def hidden(song: Song) -> Song:
    """The song without the names and programs of its parts."""
    parts = (replace(p, name=f"#{p.number}", track_name="", program=None) for p in song.parts)
    return replace(song, parts=tuple(parts))


def without(song: Song, gone: tuple[int, ...]) -> Song | None:
    """The song without some parts; None where no other has notes."""
    left = [i for i in range(len(song.parts)) if i not in gone]
    if not left:
        return None
    number: NDArray[np.int32] = np.full(len(song.parts), -1, dtype=np.int32)
    number[left] = np.arange(len(left))
    notes = song.notes.take(np.flatnonzero(number[song.notes.part] >= 0))
    parts = tuple(song.parts[i] for i in left)
    return replace(song, notes=replace(notes, part=number[notes.part]), parts=parts)


def rows(folder: Path, step: int = 1) -> list[Row]:
    """Basses found, other parts taken for them, and basses claimed where none is labelled."""
    seen: dict[str, list[float]] = {}

    def note(what: str, value: bool) -> None:
        seen.setdefault(what, []).append(float(value))

    for case in labelled(folder, step):
        for how, song in (("hidden", hidden(case.song)), ("shown", case.song)):
            parts = hear_parts(song)
            lead = next(iter(parts.bass), None)
            if not case.basses:
                note(f"bass claimed where none is labelled, {how}", lead is not None)
                continue
            note(f"labelled bass found, {how}", lead in case.basses)
            note(f"another part taken for it, {how}", lead not in (None, *case.basses))
            other = lead is not None and lead not in (*case.basses, *case.doubles)
            note(f"the same, parts that double it left out, {how}", other)
            away = lead is not None and other and not plays_line_of(song, lead, case.basses)
            note(f"the same, parts that play its line and more left out, too, {how}", away)
            sure = lead is not None and parts.certainty[lead] >= SURE_BASS and parts.rival < 0
            note(f"the same, where what is off is told as more than a note, {how}", other and sure)
            note(f"bass told as more than a note, {how}", sure)
            rest = without(song, (*case.basses, *case.doubles))
            claimed = rest is not None and bool(hear_parts(rest).bass)
            note(f"bass claimed, basses and doubles taken out, {how}", claimed)
    return [_row(what, values) for what, values in sorted(seen.items())]


if __name__ == "__main__":
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("songs")
    if not data.is_dir():
        sys.exit(f"No songs at {data}: pass a folder of MIDI files.")
    for row in rows(data, int(sys.argv[2]) if len(sys.argv) > 2 else 1):
        print(f"{row.what:66} {row.value:7.3f}  {row.low:.3f}–{row.high:.3f}  n={row.songs}")
