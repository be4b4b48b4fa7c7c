"""A beat as notes and truth, before it is a file. Nothing of the package under test is used."""

from __future__ import annotations

import io
from dataclasses import dataclass, field, replace

import mido

STEPS = 16  # sixteenth notes of a 4/4 bar; every beat here is in 4/4


@dataclass(frozen=True, slots=True)
class Note:
    """A note in ticks."""

    start: int
    end: int
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Control:
    """A controller (``number`` 0–127) or, with ``number`` −1, a wheel value −8192..8191."""

    tick: int
    number: int
    value: int


@dataclass(frozen=True, slots=True)
class Track:
    """One part. ``channel`` 1–16; ``controls`` in playing order."""

    name: str
    role: str
    channel: int
    program: int | None
    notes: tuple[Note, ...]
    controls: tuple[Control, ...] = ()


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord of the harmony: ticks, root pitch class, pitch classes of all its notes."""

    start: int
    end: int
    root: int
    quality: str
    pcs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Slide:
    """A slide as meant: ``land`` is None where the file cannot say when the glide is over."""

    how: str
    start: int
    land: int | None
    origin: float
    target: float


@dataclass(frozen=True, slots=True)
class Fill:
    """A roll as meant."""

    role: str
    start: int
    end: int
    hits: int
    grid: str
    velocity: str


@dataclass(frozen=True, slots=True)
class Truth:
    """What was meant. Bars count from 0; ``scale`` holds pitch classes in use; decay in seconds."""

    tonic: int
    mode: str
    scale: frozenset[int]
    chords: tuple[Chord, ...]
    phrases: tuple[tuple[int, int, str], ...]
    fills: tuple[Fill, ...]
    slides: tuple[Slide, ...]
    pattern: str
    decay_s: float


@dataclass(frozen=True, slots=True)
class Beat:
    """A whole beat. ``data`` is its file."""

    seed: int
    division: int
    bpm: float
    bars: int
    tracks: tuple[Track, ...]
    truth: Truth
    markers: tuple[tuple[int, str], ...] = ()
    file_format: int = 1
    states_tempo: bool = True
    states_meter: bool = True
    data: bytes = field(default=b"", repr=False)

    @property
    def bar(self) -> int:
        """Ticks of a bar."""
        return 4 * self.division

    def ms(self, milliseconds: float) -> int:
        """Ticks in so many milliseconds."""
        return round(milliseconds * self.bpm * self.division / 60_000)

    def track(self, role: str) -> Track:
        """The first track of a role."""
        return next(t for t in self.tracks if t.role == role)

    def with_track(self, track: Track) -> Beat:
        """The beat with the track of that name changed, and its file written anew."""
        tracks = tuple(track if t.name == track.name else t for t in self.tracks)
        return write(replace(self, tracks=tracks))


def write(beat: Beat) -> Beat:
    """The beat with its file, built and encoded by mido."""
    file = mido.MidiFile(type=beat.file_format, ticks_per_beat=beat.division)
    conductor: list[tuple[int, int, mido.Message | mido.MetaMessage]] = []
    if beat.states_tempo:
        tempo = mido.MetaMessage("set_tempo", tempo=round(60e6 / beat.bpm))
        conductor.append((0, 0, tempo))
    if beat.states_meter:
        conductor.append((0, 0, mido.MetaMessage("time_signature", numerator=4, denominator=4)))
    for bar, text in beat.markers:
        conductor.append((bar * beat.bar, 0, mido.MetaMessage("marker", text=text)))
    voices = [_events(track) for track in beat.tracks]
    if beat.file_format == 0:
        file.tracks.append(_track([*conductor, *(e for voice in voices for e in voice)]))
    else:
        file.tracks.append(_track(conductor))
        for track, voice in zip(beat.tracks, voices, strict=True):
            name = mido.MetaMessage("track_name", name=track.name)
            file.tracks.append(_track([(0, -1, name), *voice]))
    out = io.BytesIO()
    file.save(file=out)
    return replace(beat, data=out.getvalue())


# at one tick: programs and controllers, ends, the wheel, starts
def _events(track: Track) -> list[tuple[int, int, mido.Message | mido.MetaMessage]]:
    channel = track.channel - 1
    events: list[tuple[int, int, mido.Message | mido.MetaMessage]] = []
    if track.program is not None:
        events.append(
            (0, 0, mido.Message("program_change", channel=channel, program=track.program))
        )
    for control in track.controls:
        if control.number < 0:
            bend = mido.Message("pitchwheel", channel=channel, pitch=control.value)
            events.append((control.tick, 2, bend))
        else:
            change = mido.Message(
                "control_change", channel=channel, control=control.number, value=control.value
            )
            events.append((control.tick, 0, change))
    for note in track.notes:
        on = mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity)
        off = mido.Message("note_off", channel=channel, note=note.pitch, velocity=64)
        events.append((note.start, 3, on))
        if note.end >= 0:  # a negative end: the fault of a note that never ends
            events.append((note.end, 1 if note.end > note.start else 4, off))
    return events


def _track(events: list[tuple[int, int, mido.Message | mido.MetaMessage]]) -> mido.MidiTrack:
    track = mido.MidiTrack()
    tick = 0
    for at, _, message in sorted(events, key=lambda e: e[:2]):
        track.append(message.copy(time=at - tick))
        tick = at
    return track
