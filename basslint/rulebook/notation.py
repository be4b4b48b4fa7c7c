"""A beat written as a few lines of text, compiled to real MIDI bytes.

Rule pages and tests write their examples in it; they run through the same reader as any file::

    tempo 140
    keys | A3+C4+E4:4 | F3+A3+C4:4 |*4
    sub  | A1:4       | F1:4       |*4

Facts first: ``tempo 140``, ``tempo 5 150`` from bar 5 on (a beat without a tempo line has none in
its file), ``meter 4/4`` (the default; ``meter none`` leaves it out), ``decay 600ms``,
``key A minor``, ``glide 100ms``, ``bend-range 12``, ``one-shot yes``, ``sound-cents 15``,
``sound-pitch F#1``, ``root-key C3``, ``marker 5 Verse``, ``chords Dm Bb*2 C`` and ``chords 5 Gm C``
from bar 5 on. Then one line per part: its name and its bars between ``|``; ``|*4`` plays all bars
since the line's start, or since ``||``, four times. A token is
``PITCH[+PITCH…][:BEATS][~BEATS][@VELOCITY[-VELOCITY]][xTIMES]``: beats are quarters, ``~`` lets
a note ring longer (or, negative, shorter) than its slot, ``~never`` leaves its note-off out, ``.``
rests. ``NAME wheel 12`` writes RPN 0, ``NAME bend | 1:0 2.5:+5 |`` draws the pitch wheel in
semitones by beat of the bar, with straight ramps between points.
"""

from __future__ import annotations

import io
import re
from fractions import Fraction
from typing import Any

import mido

from basslint.errors import RuleError
from basslint.hear.facts import Facts, StatedChords, parse_key, parse_seconds
from basslint.rulebook.bars import split_bars
from basslint.theory.names import FLATS, SHARPS
from basslint.util.records import field, record

DIVISION = 480
MAX_NOTES = 20_000
MAX_BARS = 2_000
MAX_BEATS = 20_000  # where a note or a point of the wheel may stand at the latest
MAX_LINES = 500
_DRUM_NAMES = ("drum", "kick", "snare", "clap", "hat", "perc")
_TOKEN = re.compile(
    r"^(?P<pitch>\.|[A-G][#b]?-?\d(?:\+[A-G][#b]?-?\d)*)"
    r"(?::(?P<length>\d*\.\d+|\d+(?:/\d+)?))?"
    r"(?:~(?P<ring>never|-?(?:\d*\.\d+|\d+(?:/\d+)?)))?"
    r"(?:@(?P<loud>\d+)(?:-(?P<until>\d+))?)?"
    r"(?:x(?P<times>\d+))?$"
)


@record
class Beat:
    """A compiled example: MIDI bytes, and the facts that its text states."""

    data: bytes
    facts: Facts


@record(frozen=False)
class _Part:
    name: str
    events: list[tuple[int, int, mido.Message]] = field(default_factory=list)
    wheel: float | None = None


def compile_beat(text: str) -> Beat:
    """Compile a beat. Raises `RuleError` naming the line that cannot be read."""
    writer = _Writer()
    lines = text.splitlines()
    if len(lines) > MAX_LINES:
        raise RuleError(f"The example has more than {MAX_LINES} lines.", "Show less.")
    for number, line in enumerate(lines, start=1):
        line = line.split("//", 1)[0].strip()
        if line:
            try:
                writer.line(line)
            except RuleError:
                raise
            except Exception as error:
                raise RuleError(
                    f"Example, line {number}: “{line[:60]}” cannot be read ({str(error)[:120]}).",
                    "`basslint explain off-root` shows beats in this notation.",
                ) from None
    return writer.finish()


def pitch_number(name: str) -> int:
    """MIDI number of a pitch in scientific notation (C4 = 60)."""
    match = re.match(r"^([A-G][#b]?)(-?\d)$", name)
    if not match:
        raise ValueError(f"{name} is no pitch")
    names = SHARPS if match[1] in SHARPS else FLATS
    extra = {"Cb": -1, "Fb": 4, "E#": 5, "B#": 12}
    step = extra[match[1]] if match[1] in extra else names.index(match[1])
    return step + 12 * (int(match[2]) + 1)


class _Writer:
    def __init__(self) -> None:
        self.bar = Fraction(4)
        self.meter: tuple[int, int] | None = (4, 4)
        self.tempos: list[tuple[int, float]] = []
        self.markers: list[tuple[int, str]] = []
        self.parts: dict[str, _Part] = {}
        self.facts: dict[str, Any] = {}
        self.notes = 0

    def line(self, line: str) -> None:
        word, _, rest = line.partition(" ")
        rest = rest.strip()
        if rest.startswith("|"):
            self._notes(self._part(word), split_bars(rest, MAX_BARS))
        elif rest.startswith("wheel "):
            self._wheel(self._part(word), float(rest[6:]))
        elif rest.startswith("bend "):
            self._bends(self._part(word), split_bars(rest[5:].strip(), MAX_BARS))
        elif word == "tempo":
            bar, _, later = rest.rpartition(" ")
            self.tempos.append((_bar(bar or "1"), _within(float(later), 10, 1000)))
        elif word == "meter":
            self._meter(rest)
        elif word == "marker":
            bar, _, name = rest.partition(" ")
            self.markers.append((_bar(bar), name))
        elif word == "decay":
            self.facts["decay_s"] = parse_seconds(rest, "decay")
        elif word == "glide":
            self.facts["glide_time_s"] = parse_seconds(rest, "glide")
        elif word == "key":
            self.facts["key"] = parse_key(rest, "key")
        elif word == "chords":
            self._chords(rest)
        elif word == "bend-range":
            self.facts["bend_range"] = float(rest)
        elif word == "one-shot":
            self.facts["one_shot"] = rest == "yes"
        elif word == "sound-cents":
            self.facts["sound_cents"] = float(rest)
        elif word == "loop-cents":
            self.facts["loop_cents"] = float(rest)
        elif word == "sound-pitch":
            self.facts["sound_pitch"] = float(pitch_number(rest))
        elif word == "root-key":
            self.facts["root_key"] = float(pitch_number(rest))
        else:
            raise ValueError("it is no fact, and a part's bars stand between | signs")

    def _chords(self, text: str) -> None:
        from basslint.theory.chord_symbols import read_chords

        bar, _, line = text.partition(" ")
        if not bar.isdigit():
            bar, line = "1", text
        stated = StatedChords(_bar(bar), read_chords(line, "chords"))
        self.facts["chords"] = (*self.facts.get("chords", ()), stated)

    def _meter(self, text: str) -> None:
        self.meter = None
        if text != "none":
            upper, lower = text.split("/")
            if lower not in ("2", "4", "8", "16"):
                raise ValueError("a beat is a half, quarter, eighth or sixteenth")
            self.meter = (int(_within(float(upper), 1, 64)), int(lower))
            self.bar = Fraction(4 * self.meter[0], self.meter[1])

    def _part(self, name: str) -> _Part:
        pitched = sum(not _is_drum(p) for p in self.parts)
        if pitched == 15 and name not in self.parts and not _is_drum(name):
            raise ValueError("MIDI has channels for 15 pitched parts")
        return self.parts.setdefault(name, _Part(name))

    def _notes(self, part: _Part, bars: list[str]) -> None:
        for number, bar in enumerate(bars):
            now = number * self.bar
            for token in bar.split():
                match = _TOKEN.match(token)
                if not match:
                    raise ValueError(f"“{token}” is no note")
                length = Fraction(match["length"] or 1)
                never = match["ring"] == "never"
                ring = Fraction(0 if never else match["ring"] or 0)
                if length + ring < 0:
                    raise ValueError(f"“{token}” ends before it begins")
                loud = int(match["loud"] or 100)
                until = int(match["until"] or loud)
                times = int(match["times"] or 1)
                self.notes += times
                if self.notes > MAX_NOTES:
                    raise ValueError(f"more than {MAX_NOTES} notes")
                for k in range(times):
                    if match["pitch"] != ".":
                        velocity = round(loud + (until - loud) * k / max(times - 1, 1))
                        for name in match["pitch"].split("+"):
                            end = None if never else now + length + ring
                            self._note(part, name, now, end, velocity)
                    now += length

    def _note(
        self, part: _Part, name: str, start: Fraction, end: Fraction | None, velocity: int
    ) -> None:
        pitch = pitch_number(name)
        on = _tick(start)
        part.events.append((on, 2, mido.Message("note_on", note=pitch, velocity=velocity)))
        if end is not None:
            off = _tick(end)  # offs come first at a tick, but not that of a note without length
            order = 0 if off > on else 3
            part.events.append((off, order, mido.Message("note_off", note=pitch, velocity=0)))

    def _wheel(self, part: _Part, semitones: float) -> None:
        part.wheel = _within(semitones, 0.01, 127)
        cents = round(semitones % 1 * 100)
        for order, (number, value) in enumerate(
            ((101, 0), (100, 0), (6, int(semitones)), (38, cents), (101, 127), (100, 127))
        ):
            message = mido.Message("control_change", control=number, value=value)
            part.events.append((0, order - 10, message))

    def _bends(self, part: _Part, bars: list[str]) -> None:
        span = part.wheel or 2.0
        points: list[tuple[Fraction, float]] = []
        for number, bar in enumerate(bars):
            for token in bar.split():
                beat, _, height = token.partition(":")
                points.append((number * self.bar + Fraction(beat) - 1, float(height)))
        step = DIVISION // 8
        for (at, low), (then, high) in zip(points, [*points[1:], points[-1]], strict=True):
            first, last = _tick(at), _tick(then)
            ticks = range(first, last, step) if high != low else [first]
            for tick in ticks or [first]:
                part_way = (tick - first) / (last - first) if last > first else 0.0
                value = round((low + (high - low) * part_way) / span * 8192)
                message = mido.Message("pitchwheel", pitch=max(-8192, min(8191, value)))
                part.events.append((tick, 1, message))

    def finish(self) -> Beat:
        midi = mido.MidiFile(type=1, ticks_per_beat=DIVISION)
        head = mido.MidiTrack()
        if self.meter is not None:
            upper, lower = self.meter
            head.append(mido.MetaMessage("time_signature", numerator=upper, denominator=lower))
        metas = [
            (bar, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
            for bar, bpm in self.tempos
        ]
        metas += [(bar, mido.MetaMessage("marker", text=name)) for bar, name in self.markers]
        now = 0
        for bar, message in sorted(metas, key=lambda m: m[0]):
            tick = round((bar - 1) * self.bar * DIVISION)
            head.append(message.copy(time=tick - now))
            now = tick
        midi.tracks.append(head)
        channels = iter(c for c in range(16) if c != 9)
        for part in self.parts.values():
            channel = 9 if _is_drum(part.name) else next(channels)
            track = mido.MidiTrack([mido.MetaMessage("track_name", name=part.name)])
            now = 0
            for tick, _, message in sorted(part.events, key=lambda e: (e[0], e[1])):
                track.append(message.copy(channel=channel, time=tick - now))
                now = tick
            midi.tracks.append(track)
        file = io.BytesIO()
        midi.save(file=file)
        return Beat(file.getvalue(), Facts(**self.facts))


def _is_drum(name: str) -> bool:
    return name.lower().startswith(_DRUM_NAMES)


def _within(value: float, low: float, high: float) -> float:
    if not low <= value <= high:
        raise ValueError(f"{value:g} is not from {low:g} to {high:g}")
    return value


def _bar(text: str) -> int:
    return int(_within(int(text), 1, MAX_BARS))


def _tick(beat: Fraction) -> int:
    if not 0 <= beat <= MAX_BEATS:
        raise ValueError(f"beat {float(beat):g} is not from 0 to {MAX_BEATS}")
    return round(beat * DIVISION)
