"""What do a part's name and program say about its role?

Words of the trade, of which the last one decides: a "bass drum" is a drum, a "sub kick" too.
Programs and the drum channel are those of General MIDI 1. Names in other languages only where the
word is common in session files; common practice, no source.
"""

from __future__ import annotations

import re
from typing import Final, Literal

from basslint.theory.general_midi import (
    BASS_AND_LEAD,
    BASSES,
    DRUM_SOUNDS,
    ENSEMBLES,
    ORGANS,
    PADS,
    PIANO,
    PIANOS,
    REEDS_PIPES_LEADS,
    SOUND_EFFECTS,
    TIMPANI,
)

Role = Literal["bass", "harmony", "melody", "drums", "other"]

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
        "saxophone trumpet violin clarinet oboe whistle trombone"
    ),
    "other": "fx sfx effect effects riser risers impact noise applause gunshot seashore "
    "timpani timp timps kettledrum kettledrums pauken",
}
_ROLE_OF: Final[dict[str, Role]] = {
    word: role for role, words in _WORDS.items() for word in words.split()
}
_BASSOONS: Final = "basson", "bassoon"  # in the plural and in other languages: no basses
_TOKEN: Final = re.compile(r"808s?|[A-Z]?[a-zà-ÿ]+|[A-Z]+(?![a-z])")

# Groups of General MIDI 1 programs by the role they usually play.
_PROGRAMS: Final[tuple[tuple[range, Role], ...]] = (
    (PIANOS, "harmony"),
    (ORGANS, "harmony"),
    (BASSES, "bass"),
    (ENSEMBLES, "harmony"),
    (REEDS_PIPES_LEADS, "melody"),
    (PADS, "harmony"),
    (DRUM_SOUNDS, "drums"),
    (SOUND_EFFECTS, "other"),
    (TIMPANI, "other"),  # low, pitched and no bass: they strike with it, or roll
)


def role_by_name(name: str) -> tuple[Role, str] | None:
    """The role that a part's name states, with the word that states it; None for none or two.

    The last word that names a role decides ("bass drum", "lead bass"), but "bass" with "lead" names
    a sound that plays either, as General MIDI's program 88 does.
    """
    words = [word.lower() for word in _TOKEN.findall(name)]
    roles = [(_role_of_word(word), word) for word in words]
    found = [(role, word) for role, word in roles if role is not None]
    if not found:
        joined = "".join(words[:2])
        role = _ROLE_OF.get(joined)  # "hi-hat", "e piano"
        return (role, joined) if role is not None else None
    if "lead" in words and {"bass", "melody"} <= {role for role, _ in found}:
        return None
    return found[-1]


def _role_of_word(word: str) -> Role | None:
    if word in _ROLE_OF:
        return _ROLE_OF[word]
    if word.startswith(_BASSOONS):
        return "melody"
    if word.endswith("bass") or (word.startswith("bass") and word not in ("basset", "bassett")):
        return "bass"  # "subbass", "synthbass", "bassline"
    return None


def role_by_program(program: int | None) -> Role | None:
    """The role of a General MIDI program 0–127; None where it suggests none."""
    if program is None or program in (PIANO, BASS_AND_LEAD):
        return None  # the piano is also what a file says that says nothing
    return next((role for group, role in _PROGRAMS if program in group), None)
