"""What does the file play? The arrangement as parts, notes and changes over time.

A Song holds facts of the file alone: nothing here is guessed or judged.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.errors import TooLarge
from basslint.smf.scan import Scan
from basslint.song.channels import Steering, changes_of, read_channels
from basslint.song.events import NEVER, Changes, Marker, Notes, Part
from basslint.song.metas import Names, read_metas
from basslint.song.timing import BarGrid, TempoMap, bar_grid, grid_size
from basslint.util.columns import order_of, rows_where
from basslint.util.records import record, replace

__all__ = ["NEVER", "Changes", "Marker", "Notes", "Part", "Song", "build"]

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pretty_midi


_MOST_WARNINGS = 50


@record(eq=False, kw_only=True)
class Song:
    """A whole arrangement. ``end_tick`` is the last event of any track; ``silent``: the names of
    tracks without notes; ``steering`` tells what there is among ``changes``."""

    scan: Scan
    division: int
    parts: tuple[Part, ...]
    notes: Notes
    steering: Steering
    tempo: TempoMap
    grid: BarGrid
    markers: tuple[Marker, ...]
    end_tick: int
    warnings: tuple[str, ...]
    silent: tuple[str, ...]

    @property
    def changes(self) -> Changes:
        """All channel messages but notes, in order of time; most songs are judged without them."""
        if self.steering.changes is None:
            self.steering.changes = changes_of(self.scan)
        return self.steering.changes

    @property
    def seconds(self) -> float:
        """Length of the song in seconds."""
        return self.tempo.seconds(self.end_tick)

    def rows_of(self, parts: Sequence[int]) -> NDArray[np.intp]:
        """Rows of ``notes`` that belong to some parts (indexes into ``parts``), rising."""
        if len(parts) == 1:  # as is mostly asked
            return rows_where(self.notes.part == parts[0])
        mine = np.array([p in parts for p in range(len(self.parts))], dtype=bool)
        return mine.take(self.notes.part).nonzero()[0]

    def notes_of(self, *parts: int) -> Notes:
        """The notes of some parts (indexes into ``parts``), in order of time."""
        return self.notes.take(self.rows_of(parts))

    def to_pretty_midi(self) -> pretty_midi.PrettyMIDI:
        """The song as a `pretty_midi.PrettyMIDI`, see `basslint.song.export.to_pretty_midi`."""
        from basslint.song.export import to_pretty_midi

        return to_pretty_midi(self)


def build(scan: Scan, max_bars: int | None = None) -> Song:
    """Turn scanned bytes into a Song, under the limits that they were read with.

    Raises `TooLarge` where the song has more bars (``max_bars`` overrides), beats or parts than
    allowed.
    """
    limits = scan.limits
    max_bars = limits.max_bars if max_bars is None else max_bars
    warnings = list(scan.warnings)
    end_tick = max((int(t.tick[-1]) for t in scan.tracks if len(t)), default=0)
    tempo, meter, markers, names = read_metas(scan, warnings)
    bars, beats = grid_size(end_tick, meter, scan.division)
    if bars > max_bars or beats > limits.max_beats:
        raise TooLarge(
            f"The song would be {bars:,} bars long, {beats:,} beats; basslint reads up to "
            f"{max_bars:,} bars and {limits.max_beats:,} beats.",
            "Check the delta times for one that is far too long, or raise the limits `max_bars` "
            "and `max_beats`.",
        )
    notes, programs, steering = read_channels(scan, end_tick, warnings)
    parts, part = _find_parts(scan, notes, programs, names)
    return Song(
        scan=scan,
        division=scan.division,
        parts=parts,
        notes=replace(notes, part=part),
        steering=steering,
        tempo=tempo,
        grid=bar_grid(end_tick, meter, scan.division),
        markers=markers,
        end_tick=end_tick,
        warnings=_summed_up(warnings),
        silent=_without_notes(names, parts),
    )


def _without_notes(names: Names, parts: Sequence[Part]) -> tuple[str, ...]:
    """Names of tracks that hold no notes. That of the first one is the song's (RP-001)."""
    sounding = {part.track for part in parts}
    named = sorted(names.track.items())
    return tuple(name for track, name in named if track > 0 and track not in sounding)


def _summed_up(warnings: list[str]) -> tuple[str, ...]:
    """The first warnings, and how many more there were."""
    more = len(warnings) - _MOST_WARNINGS
    if more <= 0:
        return tuple(warnings)
    return (*warnings[:_MOST_WARNINGS], f"There were {more:,} more warnings like these.")


def _find_parts(
    scan: Scan, notes: Notes, changes: Changes | None, names: Names
) -> tuple[tuple[Part, ...], NDArray[np.int32]]:
    """Number the (track, channel) pairs that have notes, in order of track and channel.

    ``changes``: those of programs, None where there are none.
    """
    number_of = np.bincount(notes.part, minlength=16 * len(scan.tracks))  # notes of each voice
    voices = number_of.nonzero()[0]
    count, index = number_of[voices], ((number_of > 0).cumsum() - 1)[notes.part]
    if len(voices) > scan.limits.max_parts:
        raise TooLarge(
            f"The song has {len(voices):,} parts; basslint reads up to {scan.limits.max_parts:,}.",
            "Check that this is an arrangement, or raise the limit `max_parts`.",
        )
    shared = np.bincount(voices // 16, minlength=len(scan.tracks)) > 1
    programs = _programs(changes, number_of > 0)
    # the notes part by part, each in order of time: first start, lowest and highest pitch of each
    order = order_of(index)
    first = count.cumsum() - count
    starts, pitch = notes.start[order[first]], notes.pitch.take(order)
    lowest = np.minimum.reduceat(pitch, first) if len(order) else first
    highest = np.maximum.reduceat(pitch, first) if len(order) else first
    parts: list[Part] = []
    for number, (voice, size, begin, low, high) in enumerate(
        zip(*(c.tolist() for c in (voices, count, starts, lowest, highest)), strict=True), start=1
    ):
        track, channel = voice // 16, voice % 16 + 1
        track_name = names.channel.get((track, channel)) or names.track.get(track, "")
        own = (track, channel) in names.channel
        name = track_name or f"track {track}"
        if shared[track] and not own:
            name = f"{name} ch {channel}"
        program = _set_before(begin, programs.get((track, channel), ()))
        if program is None:
            program = _set_before(begin, programs.get((None, channel), ()))
        parts.append(
            Part(
                number=number,
                track=track,
                channel=channel,
                name=name,
                track_name=track_name,
                program=program,
                notes=size,
                lowest=low,
                highest=high,
            )
        )
    return tuple(parts), index.astype(np.int32)


_Programs = dict[tuple[int | None, int], list[tuple[int, int]]]


def _programs(changes: Changes | None, plays: NDArray[np.bool_]) -> _Programs:
    """Tick and number of the programs set by (track, channel), or (None, channel), in order.

    MIDI 1.0: a program holds for its channel, whichever track sets it. But sessions are often
    exported with every track on one channel and one device each: a track that plays notes of its
    own (``plays``, by voice) sets programs for itself alone.
    """
    programs: _Programs = {}
    if changes is None:
        return programs
    own = plays[changes.track * 16 + changes.channel - 1]
    columns = (changes.track, changes.channel, own, changes.tick, changes.number)
    for track, channel, itself, tick, number in zip(*(c.tolist() for c in columns), strict=True):
        programs.setdefault((track if itself else None, channel), []).append((tick, number))
    return programs


def _set_before(begin: int, programs: Sequence[tuple[int, int]]) -> int | None:
    """The last of some programs that are set until a tick, None for none."""
    place = bisect_right(programs, begin, key=lambda program: program[0])
    return programs[place - 1][1] if place else None
