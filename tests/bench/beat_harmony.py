"""Keys, chords and loops of generated beats.

Scales and chord spellings from Open Music Theory; the loops are common ones of the style
(common practice, no source).
"""

from __future__ import annotations

import random
from dataclasses import dataclass

SCALES = {
    "minor": (0, 2, 3, 5, 7, 8, 10),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "major": (0, 2, 4, 5, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
}
TRIADS = {"major": (0, 4, 7), "minor": (0, 3, 7), "diminished": (0, 3, 6)}

# degree: semitones above the tonic, quality; upper case major, lower case minor
_DEGREES = {
    "i": (0, "minor"),
    "I": (0, "major"),
    "bII": (1, "major"),
    "ii": (2, "minor"),
    "III": (3, "major"),
    "iii": (4, "minor"),
    "iv": (5, "minor"),
    "IV": (5, "major"),
    "v": (7, "minor"),
    "V": (7, "major"),
    "VI": (8, "major"),
    "vi": (9, "minor"),
    "VII": (10, "major"),
    "vii": (10, "minor"),
}
LOOPS = {
    "minor": (
        "i VI III VII",
        "i VI iv V",
        "i iv VI v",
        "i VII VI VII",
        "i i VI VII",
        "VI VII i i",
        "i v VI iv",
        "i iv i V",
        "i VI",
        "i iv",
        "i III VII VI",
    ),
    "dorian": ("i IV", "i IV VII IV", "i ii IV i", "i VII IV i"),
    "phrygian": ("i bII", "i bII vii i", "i VI bII i"),
    "major": ("I V vi IV", "vi IV I V", "I vi IV V", "ii V I vi", "IV V iii vi", "I iii IV V"),
    "mixolydian": ("I VII IV I", "I v IV I"),
}
# four bars, a step for two, another step for two
STEPS_OF_ROOTS = {
    "minor": ("i VII VI", "VI VII i", "iv v VI", "VI v iv"),
    "dorian": ("i ii III", "III ii i", "i VII IV"),
    "phrygian": ("i bII III", "III bII i"),
    "major": ("I ii iii", "vi V IV", "IV V vi"),
    "mixolydian": ("I VII vi", "IV v vi"),
}
_MODES = ("minor",) * 9 + ("dorian", "dorian", "phrygian", "major", "major", "major", "mixolydian")


@dataclass(frozen=True, slots=True)
class Key:
    """A key: tonic pitch class, mode, and the pitch classes of its scale."""

    tonic: int
    mode: str

    @property
    def scale(self) -> frozenset[int]:
        return frozenset((self.tonic + s) % 12 for s in SCALES[self.mode])


@dataclass(frozen=True, slots=True)
class Harmony:
    """A chord without a place: root pitch class, quality of its triad, all its pitch classes."""

    root: int
    quality: str
    pcs: tuple[int, ...]


def choose_key(rng: random.Random) -> Key:
    """A key, mostly minor as the style has it."""
    return Key(rng.randrange(12), rng.choice(_MODES))


def chords_of(loop: str, key: Key, colour: str) -> list[Harmony]:
    """Spell a loop of degrees. ``colour``: "triads", "sevenths" or "ninths", from the scale."""
    result = []
    for degree in loop.split():
        above, quality = _DEGREES[degree]
        root = (key.tonic + above) % 12
        pcs = [(root + i) % 12 for i in TRIADS[quality]]
        scale = key.scale | set(pcs)
        if colour in ("sevenths", "ninths"):
            # the scale's seventh; over a major dominant of minor that is the minor seventh
            sevenths = [(root + i) % 12 for i in (10, 11) if (root + i) % 12 in scale]
            pcs += sevenths[:1]
        if colour == "ninths" and (root + 2) % 12 in scale:
            pcs.append((root + 2) % 12)
        result.append(Harmony(root, quality, tuple(dict.fromkeys(pcs))))
    return result


def voicing(pcs: tuple[int, ...], near: list[int], low: int, high: int) -> list[int]:
    """The position of a chord in [low, high] that moves least from ``near``.

    Triads and seventh chords in close position and any inversion. A chord with a ninth stands on
    its root with the ninth on top, as hands play it: in close position it would be a cluster.
    """
    options = []
    for lowest in range(low, low + 12):
        if len(pcs) == 5 and lowest % 12 == pcs[0]:
            third, fifth, seventh, ninth = ((pc - lowest) % 12 for pc in pcs[1:])
            options.append([lowest + i for i in (0, third, fifth, seventh, ninth + 12)])
        elif len(pcs) < 5 and lowest % 12 in pcs:
            options.append([lowest + i for i in sorted((pc - lowest) % 12 for pc in pcs)])
    inside = [notes for notes in options if notes[-1] <= high] or options
    centre = sum(near) / len(near) if near else (low + high) / 2 - 3
    return min(inside, key=lambda n: abs(sum(n) / len(n) - centre))
