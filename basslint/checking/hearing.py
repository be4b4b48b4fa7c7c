"""What is heard in a song, given what its settings state of its parts and sounds?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from basslint.errors import SoundError, UsageError
from basslint.hear.chart import Chart
from basslint.settings.model import PartSound, Settings
from basslint.song.arrangement import Song
from basslint.util.records import replace

if TYPE_CHECKING:
    from basslint.hear.facts import Facts
    from basslint.hear.harmony.loops import Loops
    from basslint.song.events import Part
    from basslint.sound.one_shot import SoundReport

_MOST_SILENT = 4  # names of tracks without notes that are told


def heard(song: Song, settings: Settings, path: str) -> Chart:
    """The chart of a song, with decay and pitch taken from the sound of its bass, where one is
    named. A sound that is named for a bass part wins over the one for all; a stated decay wins over
    the latter's. Raises `UsageError` for a stated part that the song does not have."""
    facts = settings.facts
    if settings.middle_c != facts.middle_c:
        facts = replace(facts, middle_c=settings.middle_c)
    loops = _loops(song, settings) if facts.loops else None
    chart = Chart(song, facts, path, loops)
    try:
        own = _sound_of_bass(chart, settings.part_sounds)
    except UsageError as error:  # a part that the song does not have
        option, _, what = error.message.partition(": ")
        place = settings.place_of(f"facts.{option.removeprefix('--')}")
        raise UsageError(f"{place or option}: {what}", error.advice) from None
    sound = own.file if own else facts.sound
    if sound is None:
        return chart
    try:
        measured = _measured(sound)
    except SoundError as error:
        place = settings.place_of("facts.sounds" if own else "facts.sound")
        raise SoundError(
            f"{place}: {error.message}" if place else error.message, error.advice
        ) from None
    decay = measured.t60_s if own or facts.decay_s is None else facts.decay_s
    decay = facts.decay_s if decay is None else decay
    tuned = replace(facts, **_tuning(measured, facts, own.root_key if own else None))
    known = replace(tuned, sound=sound, decay_s=decay, sound_cents=_cents(measured, tuned))
    again = Chart(song, known, path, loops)
    return again.with_parts_of(chart) if own else again


def sound_remarks(chart: Chart, settings: Settings) -> tuple[str, ...]:
    """What is stated of the sound of the bass and says nothing, in plain sentences: a sound of a
    part that is no bass, one in which too little was measured, a root key without a sound."""
    return (*_named_for_no_bass(chart, settings), *_idle_sound(chart.facts, settings))


def chord_remarks(chart: Chart, settings: Settings) -> tuple[str, ...]:
    """That chords are stated and all of them begin after the song has ended, if so."""
    stated, bars = chart.facts.chords, chart.song.grid.bars
    first = min((line.from_bar for line in stated), default=1)
    if first <= bars:
        return ()
    place = settings.place_of("facts.chords") or "chords"
    return (
        f"{place}: the chords are stated from bar {first} on, and the song has {bars} bars: none "
        "of them is used. State some from an earlier bar.",
    )


def mute_remarks(chart: Chart) -> tuple[str, ...]:
    """That tracks hold no notes where no harmony is known, in a plain sentence: many programs leave
    out what is muted (common practice, no source)."""
    silent, facts = chart.song.silent, chart.facts
    if not silent or facts.chords or facts.loops or not chart.parts.bass or chart.parts.harmony:
        return ()
    named = ", ".join(silent[:_MOST_SILENT]) + (", …" if len(silent) > _MOST_SILENT else "")
    return (
        f"No part plays chords, and the tracks without notes are: {named}. If they were muted, "
        "unmute them and export again.",
    )


def _named_for_no_bass(chart: Chart, settings: Settings) -> Iterator[str]:
    """That the sounds are named for parts none of which is the bass of this song, if so."""
    song, basses = chart.song, chart.parts.bass
    if not settings.part_sounds or not basses or _sound_of_bass(chart, settings.part_sounds):
        return
    known = {name for part in song.parts for name in _names_of(part)}
    named = [sound.part for sound in settings.part_sounds]
    strange = [name for name in named if name.casefold() not in known]
    here = " and ".join(song.parts[row].name for row in basses)
    what = (
        f"no part of this song is called {' or '.join(strange)}"
        if len(strange) == len(named)
        else f"{' and '.join(name for name in named if name not in strange)} is not heard as bass"
    )
    place = settings.place_of("facts.sounds") or "sounds"
    yield (
        f"{place}: {what}, so no sound is taken from there. Its bass is {here}: name the sound for "
        "that part, or state the other with --bass."
    )


def _idle_sound(facts: Facts, settings: Settings) -> tuple[str, ...]:
    if facts.sound is None:
        idle = facts.root_key is not None and facts.sound_pitch is None
        if not idle or settings.part_sounds:  # which play other songs
            return ()
        return (
            "A root key is stated and no sound: alone it says nothing. Name the one-shot with "
            "--sound, or as `sound` under [facts].",
        )
    measured = _measured(facts.sound)
    name, why = Path(facts.sound).name, f"`basslint sound {facts.sound}` says why."
    if measured.note is None and facts.decay_s is None:
        return (
            f"Neither pitch nor decay could be measured in {name}, so this sound says nothing of "
            f"the song; {why} Name the one-shot of the bass alone.",
        )
    if measured.note is None:
        key = ", and the root key says nothing" if facts.root_key is not None else ""
        return (
            f"No pitch could be measured in {name}: what the sampler sounds is not known{key}; "
            f"{why}",
        )
    return ()


def _tuning(measured: SoundReport, facts: Facts, own: float | None) -> dict[str, Any]:
    """Pitch and root key of a sound as fields of `Facts`: what is stated of this sound (``own``)
    wins over what is stated of all, and that over the file."""
    if measured.note is None or measured.cents_off is None:
        return {}
    known: dict[str, Any] = {"sound_pitch": measured.note + measured.cents_off / 100}
    if own is not None:
        known |= {"root_key": own, "root_key_source": "stated"}
    elif facts.root_key is None and measured.root_key is not None:
        source = "default" if measured.root_key.default else "file"
        known |= {"root_key": measured.root_key.key, "root_key_source": source}
    return known


def _cents(measured: SoundReport, tuned: Facts) -> float | None:
    """How far what the sampler plays lies from the nearest note; None where that is not sure.

    A root key may lie between two keys, and then takes as many cents from the sound.
    """
    if measured.pitch is None or measured.settled_s is None:
        return None
    off = measured.pitch - (tuned.root_key or 0.0) + tuned.transpose + tuned.cents / 100
    return 100 * (off - round(off))


def _loops(song: Song, settings: Settings) -> Loops:
    """The loops of sound that play in a song. Raises `SoundError`."""
    from basslint.audio.placed import place_loops

    try:
        return place_loops(song, settings.facts.loops, settings.limits.max_loop_s)
    except SoundError as error:
        place = settings.place_of("facts.loops").replace("`facts.loops`", "[[loop]]")
        raise SoundError(
            f"{place}: {error.message}" if place else error.message, error.advice
        ) from None


def _sound_of_bass(chart: Chart, sounds: Iterable[PartSound]) -> PartSound | None:
    """The sound named for a bass part of the song: the first part's, where several have one."""
    named = {sound.part.casefold(): sound for sound in sounds}
    for row in chart.parts.bass:
        part = chart.song.parts[row]
        for name in _names_of(part):
            if name in named:
                return named[name]
    return None


def _names_of(part: Part) -> tuple[str, ...]:
    """By what names a part may be stated, in lower case."""
    return tuple(n.casefold() for n in (part.name, part.track_name, f"#{part.number}"))


def _measured(path: str) -> SoundReport:
    """Measure a sound, once as long as it stays as it is, however many songs it plays."""
    try:
        state = Path(path).stat()
    except OSError:
        return _measure(path, 0, 0)  # which says what is wrong with it
    return _measure(path, state.st_mtime_ns, state.st_size)


@lru_cache(64)
def _measure(path: str, _time: int, _size: int) -> SoundReport:
    from basslint.sound.one_shot import measure_sound

    return measure_sound(Path(path))
