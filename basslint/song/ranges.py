"""Which pitch-bend range has each part, at each moment?

The fourteen bits of a pitch bend mean nothing without the bend range. A file states it through the
registered parameter 0 (RPN 0: controllers 101 and 100 select it, 6 gives semitones, 38 cents), or
by declaring an MPE zone; where it states none, General MIDI's power-up range of ±2 holds.

Sources: MIDI 1.0 detailed specification (registered parameters), RP-015 (reset of all
controllers), RP-018 (data increment), General MIDI 1 (±2), RP-053 (MPE: ±48 on member channels,
±2 on the manager channel; a range sent on one member channel holds for all of its zone).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.smf.status import CONTROLLER
from basslint.song.arrangement import Changes, Song
from basslint.util.columns import found_in
from basslint.util.records import field, record

DEFAULT_RANGE = 2.0  # semitones, General MIDI 1
MEMBER_RANGE = 48.0  # semitones, RP-053

RESET_CONTROLLERS = 121
_DATA_MSB, _DATA_LSB, _INCREMENT, _DECREMENT = 6, 38, 96, 97
_NRPN_LSB, _NRPN_MSB, _RPN_LSB, _RPN_MSB = 98, 99, 100, 101
PARAMETER_CONTROLLERS = (
    _DATA_MSB, _DATA_LSB, _INCREMENT, _DECREMENT, _NRPN_LSB, _NRPN_MSB, _RPN_LSB, _RPN_MSB,
)  # fmt: skip
_NULL = 127
_BEND_RANGE, _MPE_ZONE = (0, 0), (0, 6)  # (MSB, LSB) of the registered parameters


@record
class RangeStep:
    """From row ``row`` of song.changes on (at ``tick``), a channel bends ±``semitones``.

    ``stated`` is False where a zone was taken back and the range is a default again.
    """

    row: int
    tick: int
    semitones: float
    stated: bool


@record
class Ranges:
    """The bend ranges of one part.

    ``steps`` in file order, empty where the file states none. ``manager`` is the MPE manager
    channel (1 or 16) that bends this part too, 0 where there is none; ``manager_steps`` its
    ranges. ``misplaced``: a range in semitones that the file writes before it selects the
    parameter, so that no receiver obeys it; NaN where there is none.
    """

    steps: tuple[RangeStep, ...]
    manager: int
    manager_steps: tuple[RangeStep, ...]
    misplaced: float


@record(frozen=False, kw_only=True)
class _Selector:
    """What data entry means on one channel right now."""

    msb: int = _NULL
    lsb: int = _NULL
    registered: bool = True
    coarse: int = int(DEFAULT_RANGE)
    fine: int = 0
    fine_tick: int = -1

    def chosen(self) -> tuple[int, int] | None:
        if not self.registered or (self.msb == _NULL and self.lsb == _NULL):
            return None
        return self.msb, self.lsb


@record(frozen=False, kw_only=True)
class _Device:
    """The channels that one track (with the tracks that only control it) speaks to."""

    selectors: dict[int, _Selector] = field(default_factory=dict)
    members: dict[int, int] = field(default_factory=dict)  # member channel -> manager channel
    steps: dict[int, list[RangeStep]] = field(default_factory=dict)
    unselected: dict[int, tuple[int, float]] = field(default_factory=dict)
    misplaced: dict[int, float] = field(default_factory=dict)


def heard_by(song: Song, track: int, changes: Changes) -> NDArray[np.bool_]:
    """Which changes reach the channels of a track, bool [changes].

    Its own, and those of tracks without notes on a channel that only one part of the song plays:
    some sequencers write controllers on a track of their own, while others give every track the
    same channel.
    """
    voices = np.array([p.track * 16 + p.channel - 1 for p in song.parts], dtype=np.int64)
    players = np.bincount([p.channel for p in song.parts], minlength=17)
    voice = changes.track.astype(np.int64) * 16 + changes.channel - 1
    alone = ~found_in(voice, voices) & (players[changes.channel] <= 1)
    return np.asarray((changes.track == track) | alone, dtype=bool)


def hear_ranges(song: Song, parts: tuple[int, ...]) -> dict[int, Ranges]:
    """The bend ranges of some parts (indexes into song.parts), read from the whole file."""
    changes = song.changes
    wanted = (*PARAMETER_CONTROLLERS, RESET_CONTROLLERS)
    rows = ((changes.kind == CONTROLLER) & found_in(changes.number, wanted)).nonzero()[0]
    devices: dict[int, _Device] = {}
    result: dict[int, Ranges] = {}
    for index in parts:
        part = song.parts[index]
        device = devices.get(part.track)
        if device is None:
            mine = rows[heard_by(song, part.track, changes.take(rows))]
            device = devices[part.track] = _read_device(changes, mine)
        manager = device.members.get(part.channel, 0)
        result[index] = Ranges(
            tuple(device.steps.get(part.channel, ())),
            manager,
            tuple(device.steps.get(manager, ())),
            device.misplaced.get(part.channel, float("nan")),
        )
    return result


def _read_device(changes: Changes, rows: NDArray[np.intp]) -> _Device:
    device = _Device()
    columns = zip(
        rows.tolist(),
        changes.tick[rows].tolist(),
        changes.channel[rows].tolist(),
        changes.number[rows].tolist(),
        changes.value[rows].tolist(),
        strict=True,
    )
    for row, tick, channel, number, value in columns:
        selector = device.selectors.setdefault(channel, _Selector())
        if number == RESET_CONTROLLERS:  # RP-015: the selection falls, the range stays
            selector.msb = selector.lsb = _NULL
        elif number in (_RPN_MSB, _RPN_LSB, _NRPN_MSB, _NRPN_LSB):
            selector.registered = number in (_RPN_MSB, _RPN_LSB)
            if number in (_RPN_MSB, _NRPN_MSB):
                selector.msb = value
            else:
                selector.lsb = value
            early = device.unselected.get(channel)
            if selector.chosen() == _BEND_RANGE and early is not None and early[0] == tick:
                device.misplaced[channel] = early[1]
        else:
            _enter_data(device, selector, row, tick, channel, number, value)
    return device


def _enter_data(
    device: _Device, selector: _Selector, row: int, tick: int, channel: int, number: int, value: int
) -> None:
    chosen = selector.chosen()
    if chosen is None:
        if number == _DATA_MSB:
            device.unselected[channel] = (tick, float(value))
    elif chosen == _MPE_ZONE:
        if number == _DATA_MSB and channel in (1, 16):
            _declare_zone(device, row, tick, channel, value)
    elif chosen == _BEND_RANGE:
        if number == _DATA_MSB:
            # a new coarse value clears the fine one, unless that came just before it
            selector.coarse, fine = value, selector.fine
            selector.fine = fine if selector.fine_tick == tick else 0
        elif number == _DATA_LSB:
            selector.fine, selector.fine_tick = value, tick
        else:  # RP-018: one step is one cent
            cents = selector.coarse * 100 + selector.fine + (1 if number == _INCREMENT else -1)
            selector.coarse, selector.fine = divmod(max(cents, 0), 100)
        device.misplaced.pop(channel, None)
        semitones = selector.coarse + selector.fine / 100.0
        manager = device.members.get(channel, 0)
        zone = [m for m, owner in device.members.items() if owner == manager] if manager else []
        for one in zone or [channel]:
            device.steps.setdefault(one, []).append(RangeStep(row, tick, semitones, True))
            if one != channel:
                other = device.selectors.setdefault(one, _Selector())
                other.coarse, other.fine = selector.coarse, selector.fine


def _declare_zone(device: _Device, row: int, tick: int, manager: int, size: int) -> None:
    """Read an MPE configuration message: ``size`` member channels beside the manager channel."""
    members = range(2, 2 + size) if manager == 1 else range(15, 15 - size, -1)
    for channel in [m for m, owner in device.members.items() if owner == manager]:
        del device.members[channel]
        device.steps.setdefault(channel, []).append(RangeStep(row, tick, DEFAULT_RANGE, False))
    for channel in members:
        if 1 <= channel <= 16:
            device.members[channel] = manager
            device.steps.setdefault(channel, []).append(RangeStep(row, tick, MEMBER_RANGE, True))
            device.selectors.setdefault(channel, _Selector()).coarse = int(MEMBER_RANGE)
    device.steps.setdefault(manager, []).append(RangeStep(row, tick, DEFAULT_RANGE, True))
