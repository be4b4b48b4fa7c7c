"""What do the meta events of a file say: tempo, meter, markers, names of tracks and channels?

Read from every track, not only the first. Source: Standard MIDI Files 1.0 (RP-001); the channel
prefix, which gives a name to one channel alone, is of the same document.
"""

from __future__ import annotations

from basslint.smf.scan import META, Scan
from basslint.song.events import Marker
from basslint.song.timing import TempoMap
from basslint.util.records import field, record
from basslint.util.text import visible

_NAME, _INSTRUMENT, _MARKER, _CUE, _PREFIX = 0x03, 0x04, 0x06, 0x07, 0x20
_TEMPO, _METER, KEY_SIGNATURE = 0x51, 0x58, 0x59
_READ = frozenset(  # types of meta events that are looked into
    (_NAME, _INSTRUMENT, _MARKER, _CUE, _PREFIX, _TEMPO, _METER, KEY_SIGNATURE)
)
_MOST_BYTES = 4096  # of a text that are looked at; what is shown is shorter
_SMALLEST_UNIT = 6  # powers of two: a 64th; no meter is counted in less
_MOST_SHARPS = 7  # or flats, of a key signature


@record(frozen=False)
class Names:
    """What the file calls its tracks and channels; the first name of each counts."""

    track: dict[int, str] = field(default_factory=dict)
    channel: dict[tuple[int, int], str] = field(default_factory=dict)


class _Reader:
    """Gathers what the meta events of all tracks say, kind by kind."""

    def __init__(self, scan: Scan) -> None:
        self.limits = scan.limits
        self.tempo: list[tuple[int, int]] = []
        self.meter: list[tuple[int, int, int]] = []
        self.markers: list[Marker] = []
        self.left_out = 0
        self.names = Names()
        self.prefix: int | None = None  # channel that names of this track speak of

    def read(self, track: int, tick: int, kind: int, body: bytes) -> str | None:
        """Take in one event; gives what is wrong with it, None where nothing is."""
        if kind == _TEMPO:
            return self._tempo(tick, body)
        if kind == _METER:
            return self._meter(tick, body)
        if kind == KEY_SIGNATURE:
            return None if key_signature(body) else "key signature that is none"
        if kind in (_MARKER, _CUE):
            self._marker(tick, body)
        elif kind == _PREFIX and body:
            self.prefix = body[0] & 0x0F
        elif kind in (_NAME, _INSTRUMENT) and body.strip():
            self._name(track, kind, body)
        return None

    def _tempo(self, tick: int, body: bytes) -> str | None:
        usec = int.from_bytes(body[:3], "big")
        if len(body) < 3 or usec == 0:
            return "tempo that is no tempo"
        self.tempo.append((tick, usec))
        return None

    def _meter(self, tick: int, body: bytes) -> str | None:
        if len(body) < 2 or body[0] == 0 or body[1] > _SMALLEST_UNIT:
            return "time signature that is none"
        self.meter.append((tick, body[0], 1 << body[1]))
        return None

    def _marker(self, tick: int, body: bytes) -> None:
        if len(self.markers) < self.limits.max_markers:
            self.markers.append(Marker(tick, visible(body, self.limits.max_text)))
        else:
            self.left_out += 1

    def _name(self, track: int, kind: int, body: bytes) -> None:
        if self.prefix is not None:
            owner = (track, self.prefix + 1)
            if owner not in self.names.channel:
                self.names.channel[owner] = visible(body, self.limits.max_text)
        elif track not in self.names.track:
            self.names.track[track] = visible(body, self.limits.max_text)


def read_metas(
    scan: Scan, warnings: list[str]
) -> tuple[TempoMap, list[tuple[int, int, int]], tuple[Marker, ...], Names]:
    """Read tempo, meter changes (tick, numerator, denominator), markers and names of a file.

    What is wrong with an event is added to ``warnings``, and the event ignored.
    """
    reader = _Reader(scan)
    for track in scan.tracks:
        reader.prefix = None
        rows = (track.status == META).nonzero()[0]
        for row, kind in zip(rows.tolist(), track.data1.take(rows).tolist(), strict=True):
            if kind not in _READ:
                continue
            begin, stop = track.payload_at.item(row), track.stop.item(row)
            body = scan.data[begin : min(stop, begin + _MOST_BYTES)]
            wrong = reader.read(track.index, track.tick.item(row), kind, body)
            if wrong:
                where = f"track {track.index}, byte {scan.base + track.at.item(row)}"
                warnings.append(f"A {wrong} was ignored ({where}).")
    if reader.left_out:
        warnings.append(f"Only the first {scan.limits.max_markers:,} markers were read.")
    tempo = sorted(reader.tempo, key=lambda t: t[0])
    meter = sorted(reader.meter, key=lambda m: m[0])
    markers = tuple(sorted(reader.markers, key=lambda m: m.tick))
    return TempoMap.of(tempo, scan.division), meter, markers, reader.names


def key_signature(body: bytes) -> tuple[int, bool] | None:
    """Sharps (flats below 0) of a key signature's bytes, and whether it is minor; None if wrong."""
    sharps = int.from_bytes(body[:1], signed=True)
    if len(body) < 2 or not -_MOST_SHARPS <= sharps <= _MOST_SHARPS or body[1] > 1:
        return None
    return sharps, body[1] == 1
