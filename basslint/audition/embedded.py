"""Which sounds of files does a page carry, as which bytes, and how does it play them?

The one-shot and the loops that play in a song, mono, their loudest sample at `HEADROOM`: without
loss where that is small, else as OGG Vorbis, and left out where even that is too large.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Literal

from basslint.audition.loops import Singles, read_loop
from basslint.audition.sampled import one_shot_voice, read_one_shot
from basslint.audition.voices import Samples
from basslint.errors import SoundError
from basslint.hear.chart import Chart
from basslint.hear.harmony.loops import Turns
from basslint.util.records import record

MOST_BYTES = 1_500_000  # of all sounds of a song: some three minutes of OGG Vorbis
HEADROOM = 0.9  # of full scale: a lossy coder may overshoot
_LOSSLESS_BYTES = 300_000  # up to this a sound stays what it is: about five seconds
_RATES = (8_000, 96_000)  # Hz: what every browser must be able to read (Web Audio API 1.1)
_BLOCK = 1 << 16  # frames handed to the coder at once: libvorbis keeps them on its stack
_KEPT = 4  # files that stay coded: a folder of songs may share a loop

_Role = Literal["bass", "loop"]
_Source = tuple[str, _Role, float]  # a file, what it does, and how far it is turned, in seconds
_ROLES: dict[_Role, str] = {"bass": "plays the bass", "loop": "plays along"}


@record(kw_only=True)
class Carried:
    """``sounds``: files (FLAC or OGG) and their rates in Hz. ``one_shot``: row of the bass's own
    sound among them, and its pitch in Hz; None where the plain sub plays. ``loops``: row, and how
    it is played. ``played``, ``left_out``: words on what is carried, sentences on what is not."""

    sounds: tuple[tuple[bytes, int], ...] = ()
    one_shot: tuple[int, float] | None = None
    loops: tuple[tuple[int, Turns], ...] = ()
    played: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def carried(chart: Chart, most: int = MOST_BYTES) -> Carried:
    """The sounds that a page of this song carries, up to ``most`` bytes of them."""
    sounds: list[tuple[bytes, int]] = []
    rows: dict[_Source, int] = {}
    played: list[str] = []
    left_out: list[str] = []
    room = most
    for file, role, turned_s in _stated(chart):
        try:
            data, rate = _coded(file, role, turned_s, Path(file).stat().st_mtime_ns)
        except SoundError as error:  # damaged where the ear did not listen
            left_out.append(f"{Path(file).name} is not heard here: {error.message}")
            continue
        why = _why_not(data, rate, room, most)
        if why:
            sentence = f"{Path(file).name} is not heard here: {why}. `basslint audition` plays it."
            left_out.append(sentence)
            continue
        rows[file, role, turned_s] = len(sounds)
        sounds.append((data, rate))
        played.append(f"{Path(file).name} {_ROLES[role]}")
        room -= len(data)
    voice = one_shot_voice(chart.facts)
    own = rows.get((chart.facts.sound or "", "bass", 0.0))
    turns = chart.loops.turns if chart.loops is not None else ()
    return Carried(
        sounds=tuple(sounds),
        one_shot=None if own is None or voice is None else (own, voice.hz),
        loops=tuple((rows[_source(t)], t) for t in turns if _source(t) in rows),
        played=tuple(played),
        left_out=tuple(left_out),
    )


def _stated(chart: Chart) -> Iterator[_Source]:
    """The files that play in a song, each once for what it does."""
    if one_shot_voice(chart.facts) is not None and chart.facts.sound is not None:
        yield chart.facts.sound, "bass", 0.0
    if chart.loops is not None:
        yield from dict.fromkeys(map(_source, chart.loops.turns))


def _source(turns: Turns) -> _Source:
    return turns.file, "loop", turns.turned_s


def _why_not(data: bytes, rate: int, room: int, most: int) -> str:
    if not _RATES[0] <= rate <= _RATES[1]:
        return f"browsers need not read {rate:,} samples a second"
    if len(data) > room:
        return f"it takes {len(data) / 1e6:.1f} MB, and a song's sounds get {most / 1e6:.1f} MB"
    return ""


@lru_cache(_KEPT)
def _coded(file: str, role: _Role, turned_s: float, _time: int) -> tuple[bytes, int]:
    """A sound as the bytes of a FLAC or OGG file, and its rate."""
    wave, rate = read_one_shot(file) if role == "bass" else read_loop(file, turned_s)
    data = _written(wave, rate, "FLAC", "PCM_16")
    if len(data) > _LOSSLESS_BYTES:
        data = _written(wave, rate, "OGG", "VORBIS")
    return data, rate


def _written(wave: Samples | Singles, rate: int, kind: str, subtype: str) -> bytes:
    import soundfile

    buffer = io.BytesIO()
    with soundfile.SoundFile(buffer, "w", rate, 1, format=kind, subtype=subtype) as file:
        for at in range(0, len(wave), _BLOCK):
            file.write(HEADROOM * wave[at : at + _BLOCK])
    return buffer.getvalue()
