"""What has the user stated that the file cannot tell?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from basslint.errors import UsageError
from basslint.theory.general_midi import HIGHEST_KEY
from basslint.theory.names import LETTERS
from basslint.theory.scales import MODES
from basslint.util.records import record

USUAL_GLIDE_S = 0.1  # how long overlaps glide (common practice, no source)
if TYPE_CHECKING:
    from basslint.theory.chord_symbols import ChordSpan

RootKeySource = Literal["stated", "file", "default"]
MOST_TRANSPOSED = 48.0  # semitones that a sampler transposes: four octaves (common practice)
MOST_SECONDS = 3_600  # of a decay, a glide, a silence: an hour is a slip of the hand
MOST_SEMITONES = 127  # a bend range is one data byte (MIDI 1.0, RPN 0)
MOST_LOOP_BARS = 1000  # ten minutes hold fewer

_TIME = r"^\s*(\d+(?:\.\d+)?)\s*(ms|s)\s*$"
_PITCH = r"^\s*([A-Ga-g])([#b♯♭]?)\s*(-?\d)\s*$"
_KEY = r"^\s*([A-Ga-g])([#b♯♭]?)\s*[- ]?\s*(\w*)\s*$"


@record
class StatedKey:
    """A key as the user names it: ``tonic`` pitch class, ``mode`` one of `MODES`."""

    tonic: int
    mode: str


@record
class StatedChords:
    """Chords as the user states them, ``from_bar`` (from 1) on; repeated until others are stated
    or the song ends."""

    from_bar: int
    chords: tuple[ChordSpan, ...]

    def __str__(self) -> str:
        line = " ".join(str(span) for span in self.chords)
        return line if self.from_bar == 1 else f"from bar {self.from_bar}: {line}"


@record(kw_only=True)
class StatedLoop:
    """A loop of sound that plays along, as the user states it.

    ``file``: its path. ``at``: first and last bar of each stretch in which it plays, from 1, the
    whole song where none is. ``bars``: how long it is, None where it is to be heard. ``begins_s``:
    second of its first bar line in the file, or ``begins_beats`` of pickup before it, below 0.
    ``semitones`` and ``cents``: how much higher the sampler plays it.
    """

    file: str
    at: tuple[tuple[int, int], ...] = ()
    bars: int | None = None
    begins_s: float | None = None
    begins_beats: float | None = None
    semitones: float = 0.0
    cents: float = 0.0

    def __str__(self) -> str:
        at = ", ".join(f"{first}-{last}" for first, last in self.at)
        begins = (
            f"{self.begins_s}s" if self.begins_beats is None else f"{self.begins_beats:g} beats"
        )
        said = (
            (self.at, f'at "{at}"'),
            (self.bars, f"bars {self.bars}"),
            ((self.begins_s, self.begins_beats) != (None, None), f"begins {begins}"),
            (self.semitones, f"semitones {self.semitones:+g}"),
            (self.cents, f"cents {self.cents:+g}"),
        )
        return ", ".join([self.file, *(words for given, words in said if given)])


@record(kw_only=True)
class Facts:
    """Facts from the settings and the command line; None where nothing was stated.

    ``bass`` and ``harmony`` name parts by name or ``#K``. ``decay_s``: seconds in which the bass
    sound falls by 60 dB (T60). ``one_shot``: the sound rings on after its note ends. ``bend_range``
    in semitones. ``glide_time_s``: how long an overlap takes to glide. ``sound``: path of the
    bass one-shot to measure. ``sound_cents``: how far that sound is off pitch; ``sound_pitch``:
    its pitch. ``root_key``: the key at which the sampler plays it at its own pitch, and where that
    comes from; ``transpose`` (semitones) and ``cents``: how the sampler tunes it besides. Pitch and
    key are MIDI numbers with a fraction of a semitone. ``chords``:
    the harmony, where the file does not hold it. ``loops``: loops of sound that play along.
    ``loop_cents``: how far a loop stands off A = 440 Hz, where that is stated and not heard.
    ``middle_c``: the octave that the user's instruments print for MIDI note 60, for words alone.
    """

    bass: tuple[str, ...] = ()
    harmony: tuple[str, ...] = ()
    key: StatedKey | None = None
    decay_s: float | None = None
    one_shot: bool = False
    bend_range: float | None = None
    glide_time_s: float | None = None
    sound: str | None = None
    sound_cents: float | None = None
    sound_pitch: float | None = None
    root_key: float | None = None
    root_key_source: RootKeySource = "stated"
    transpose: float = 0.0
    cents: float = 0.0
    chords: tuple[StatedChords, ...] = ()
    loops: tuple[StatedLoop, ...] = ()
    loop_cents: float | None = None
    middle_c: int = 4

    @property
    def glide_s(self) -> float:
        """How long an overlap takes to glide, in seconds, as stated or as is usual."""
        return USUAL_GLIDE_S if self.glide_time_s is None else self.glide_time_s

    @property
    def sound_is_rough(self) -> bool:
        """Whether the note of the named sound is known and its cents are not."""
        return self.sound is not None and self.sound_pitch is not None and self.sound_cents is None

    @property
    def tells_of_glides(self) -> bool:
        """Whether something is stated of the bass that matters to a sound that glides alone: how
        long it glides, how it rings, which one-shot it is."""
        stated = (self.glide_time_s, self.decay_s, self.sound)
        return self.one_shot or any(fact is not None for fact in stated)


def parse_pitch(text: str, option: str, middle_c: int = 4) -> float:
    """Read ``F#1`` or ``Bb0`` as a MIDI number; ``middle_c`` is the octave of MIDI note 60.

    Raises `UsageError`.
    """
    match = re.match(_PITCH, text)
    number = -1
    if match:
        shift = {"#": 1, "♯": 1, "b": -1, "♭": -1, "": 0}[match[2]]
        octave = int(match[3]) + 5 - middle_c
        number = LETTERS[match[1].upper()] + shift + 12 * octave
    if not 0 <= number <= HIGHEST_KEY:
        raise UsageError(
            f"{option}: “{text}” is no key of an instrument.", "Write a note and octave, like F#1."
        )
    return float(number)


def parse_seconds(text: str, option: str) -> float:
    """Read ``600ms`` or ``0.6s``. Raises `UsageError`."""
    match = re.match(_TIME, text)
    seconds = float(match[1]) / (1000 if match[2] == "ms" else 1) if match else 0.0
    if seconds <= 0:
        raise UsageError(f"{option}: “{text}” is no length of time.", "Write 600ms or 0.6s.")
    if seconds > MOST_SECONDS:
        raise UsageError(
            f"{option}: “{text}” is longer than any sound.", f"Write up to {MOST_SECONDS:,} s."
        )
    return seconds


def parse_key(text: str, option: str = "--key") -> StatedKey:
    """Read ``F# minor``, ``Bb``, ``D dorian``. Raises `UsageError`."""
    match = re.match(_KEY, text)
    mode = (match[3] or "major").lower() if match else ""
    mode = {
        "maj": "major",
        "min": "minor",
        "m": "minor",
        "ionian": "major",
        "aeolian": "minor",
    }.get(mode, mode)
    if not match or mode not in MODES:
        raise UsageError(
            f"{option}: “{text}” is no key.",
            f'Write a tonic and a mode, like "F# minor"; modes: {", ".join(MODES)}.',
        )
    shift = {"#": 1, "♯": 1, "b": -1, "♭": -1, "": 0}[match[2]]
    return StatedKey((LETTERS[match[1].upper()] + shift) % 12, mode)
