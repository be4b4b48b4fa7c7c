"""At which key does a sampler play a sound file at its own pitch, as the file itself says it?

Sources, from memory: the sampler chunk of RIFF WAVE (Multimedia Data Standards Update, 1994): unity
note and its fraction of a semitone; the instrument chunk of AIFF 1.3: base note and detune. A note
in the file's name is a hint, no statement: it may name the key of the kit.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

from basslint.theory.general_midi import HIGHEST_KEY
from basslint.theory.names import LETTERS
from basslint.theory.tuning import octaves_aside
from basslint.util.records import record

UNASKED = 60  # MIDI number that programs write into the sampler chunk when nobody set a key
_UNITY_AT, _FRACTION_AT = 12, 16  # in a sampler chunk, both 32 bits, little-endian
_WHOLE = 2.0**32  # of the fraction: a whole semitone
_NOTE = re.compile(
    r"(?<![A-Za-z])([A-G])(#|♯|s(?=harp)|b(?![a-z])|♭)?(?:m|min|maj)?(-?[0-8])?(?![A-Za-z0-9#])"
)


@record
class RootKey:
    """``key``: MIDI number, with a fraction of a semitone, at which the sound has its own pitch.

    ``source``: the chunk that says so. ``default``: it is the value that is written unasked.
    """

    key: float
    source: Literal["smpl", "INST"]

    @property
    def default(self) -> bool:
        """Whether nobody need have chosen it."""
        return self.key == UNASKED


@record
class NameHint:
    """A note in a file's name: ``pitch_class`` 0–11, ``text`` as it stands there."""

    pitch_class: int
    text: str


def root_key_of(kind: bytes, body: bytes) -> RootKey | None:
    """The root key that a chunk states, None where it states none that MIDI knows.

    ``kind`` and ``body`` of a sampler chunk (``smpl``) or an instrument chunk (``INST``).
    """
    if kind == b"smpl" and len(body) >= _FRACTION_AT + 4:
        unity = int.from_bytes(body[_UNITY_AT : _UNITY_AT + 4], "little")
        fraction = int.from_bytes(body[_FRACTION_AT : _FRACTION_AT + 4], "little")
        return RootKey(unity + fraction / _WHOLE, "smpl") if unity <= HIGHEST_KEY else None
    if kind == b"INST" and len(body) >= 2:
        detune = int.from_bytes(body[1:2], "big", signed=True)  # cents the sampler adds
        return RootKey(body[0] - detune / 100, "INST") if body[0] <= HIGHEST_KEY else None
    return None


def hint_in_name(path: str | Path) -> NameHint | None:
    """The note that a file's name speaks of, such as F# in ``sub_F#.wav``; None without one.

    Only capitals count, and of several notes none does.
    """
    found = list(_NOTE.finditer(Path(path).stem.replace("_", " ").replace("-", " ")))
    if len(found) != 1:
        return None
    letter, sign, _ = found[0].groups()
    shift = {"#": 1, "♯": 1, "s": 1, "b": -1, "♭": -1}.get(sign or "", 0)
    return NameHint((LETTERS[letter] + shift) % 12, found[0][0].strip())


def transpose(pitch: float | None, root_key: RootKey | None) -> int:
    """Semitones, −6 to 5, by which a sampler must transpose a sound of ``pitch`` (MIDI number with
    its cents) so that every key sounds as it is written, octaves and cents aside; 0 where the pitch
    is unknown.

    Where no root key is told the sound is taken to be left at a C, as samplers come.
    """
    if pitch is None:
        return 0
    return -octaves_aside(pitch - (UNASKED if root_key is None else root_key.key))
