"""What do a part's name and program say about its role?

Words of the trade, of which the last one decides: a "bass drum" is a drum, a "sub kick" too.
Programs and the drum channel are those of General MIDI 1. Names in other languages only where the
word is common in session files; common practice, no source.
"""

from __future__ import annotations

import re
from typing import Final, Literal

Role = Literal["bass", "harmony", "melody", "drums", "other"]

DRUM_CHANNEL: Final = 10  # General MIDI 1, channels counted from 1

_WORDS: Final[dict[Role, str]] = {
    "bass": "bass bas basse basso bajo contrabass sub subs 808 808s reese lowend",
    "drums": (
        "drum drums drumkit kit kick kicks kik snare snares snr rim rimshot clap claps snap snaps "
        "hat hats hihat hihats hh hho hhc cymbal cymbals crash ride splash tom toms perc percs "
        "percussion shaker tambourine tamb conga congas bongo bongos cowbell clave claves taiko "
        "timbale timbales bassdrum bd sd"
    ),
    "harmony": (
        "chord chords harmony keys keyboard piano pno rhodes epiano organ clavinet pad pads string "
        "strings choir comp comping rhythm arp arps arpeggio arpeggios harp"
    ),
    "melody": (
        "melody melodies mel lead leads topline theme solo hook vocal vocals vox flute sax "
        "saxophone trumpet violin clarinet oboe whistle bassoon trombone"
    ),
    "other": "fx sfx effect effects riser risers impact noise applause gunshot seashore",
}
_ROLE_OF: Final[dict[str, Role]] = {
    word: role for role, words in _WORDS.items() for word in words.split()
}
_TOKEN: Final = re.compile(r"808s?|[A-Z]?[a-zà-ÿ]+|[A-Z]+(?![a-z])")

# General MIDI 1 programs 0–127 by what they usually play; piano 0 is left out, because it is also
# what a file says that says nothing
_PROGRAMS: Final[tuple[tuple[int, int, Role], ...]] = (
    (1, 7, "harmony"),  # pianos and keyboards
    (16, 23, "harmony"),  # organs and accordions
    (32, 39, "bass"),
    (48, 54, "harmony"),  # string, synth-string and voice ensembles
    (64, 87, "melody"),  # reeds, pipes, synth leads
    (88, 95, "harmony"),  # synth pads
    (115, 119, "drums"),  # woodblock to reverse cymbal
    (120, 127, "other"),  # sound effects
)
_LEAD_WITH_BASS: Final = 87  # "bass + lead": says both


def role_by_name(name: str) -> tuple[Role, str] | None:
    """The role that a part's name states, with the word that states it; None for none or two.

    The last word that names a role decides ("bass drum", "lead bass"), but "bass" with "lead" names
    a sound that plays either, as General MIDI's program 88 does.
    """
    words = [word.lower() for word in _TOKEN.findall(name)]
    joined = "".join(words[:2]) if len(words) > 1 else ""
    roles = [(_role_of_word(word), word) for word in words]
    found = [(role, word) for role, word in roles if role is not None]
    if not found:
        role = _ROLE_OF.get(joined)  # "hi-hat", "e piano"
        return (role, joined) if role is not None else None
    if {"bass", "melody"} <= {role for role, _ in found} and "lead" in words:
        return None
    return found[-1]


def _role_of_word(word: str) -> Role | None:
    if word in _ROLE_OF:
        return _ROLE_OF[word]
    if word.endswith("bass") or (word.startswith("bass") and word not in ("basset", "bassett")):
        return "bass"  # "subbass", "synthbass", "bassline"
    return None


def role_by_program(program: int | None) -> Role | None:
    """The role of a General MIDI program 0–127; None where it suggests none."""
    if program is None or program == _LEAD_WITH_BASS:
        return None
    for first, last, role in _PROGRAMS:
        if first <= program <= last:
            return role
    return None
