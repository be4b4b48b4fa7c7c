"""What do channels, keys and programs mean by convention? The General MIDI 1 sound set."""

from __future__ import annotations

from typing import Final

KEYS: Final = 128  # 0–127, of any channel (MIDI 1.0 detailed specification)
HIGHEST_KEY: Final = KEYS - 1  # a MIDI number is a data byte of seven bits
DRUM_CHANNEL: Final = 10  # channels counted from 1: its keys are the sounds of the percussion map

# Percussion map, by MIDI number.
LOWEST_DRUM_KEY: Final = 35
KICKS: Final = (35, 36)
SNARES: Final = (38, 40)
CLAP: Final = 39
TOMS: Final = (41, 43, 45, 47, 48, 50)
CRASHES: Final = (49, 52, 55, 57)  # crash 1 and 2, Chinese, splash: struck to mark a beginning
# hats 42 44 46, cymbals 49 51 52 53 55 57 59, tambourine 54, cowbell 56, vibraslap 58, cabasa 69,
# maracas 70, whistles 71 72, guiro 73 74, claves 75, triangles 80 81
TIMEKEEPERS: Final = (
    42, 44, 46, 49, 51, 52, 53, 54, 55, 56, 57, 58, 59, 69, 70, 71, 72, 73, 74, 75, 80, 81,
)  # fmt: skip
# Side stick, snares, clap, hats, cymbals and the like; toms, which kick in some kits, left out.
NO_KICKS: Final = (37, *SNARES, CLAP, *TIMEKEEPERS)
# Kicks, side stick, snares, clap, hats, cymbals and tambourine: what a drum part is told by. Toms,
# which pitched parts share keys with as often, are left out (common practice, no source).
DRUM_SET: Final = (35, 36, 37, 38, 39, 40, 42, 44, 46, 49, 51, 52, 53, 54, 55, 57, 59)
# Short words for the keys of the map, as narrow columns need them: several drums may share one.
DRUM_NAMES: Final = {
    35: "kick",
    36: "kick",
    37: "rim",
    38: "snare",
    39: "clap",
    40: "snare",
    41: "floor tom",
    42: "hat",
    43: "floor tom",
    44: "hat",
    45: "low tom",
    46: "openhat",
    47: "mid tom",
    48: "mid tom",
    49: "crash",
    50: "high tom",
    51: "ride",
    52: "china",
    53: "ride bell",
    54: "tambourine",
    55: "splash",
    56: "cowbell",
    57: "crash",
    58: "vibraslap",
    59: "ride",
    60: "bongo",
    61: "bongo",
    62: "conga",
    63: "conga",
    64: "conga",
    65: "timbale",
    66: "timbale",
    67: "agogo",
    68: "agogo",
    69: "cabasa",
    70: "maracas",
    71: "whistle",
    72: "whistle",
    73: "guiro",
    74: "guiro",
    75: "claves",
    76: "wood block",
    77: "wood block",
    78: "cuica",
    79: "cuica",
    80: "triangle",
    81: "triangle",
}

# Programs from 0, by their groups.
PIANO: Final = 0  # also what a file says that says nothing
PIANOS: Final = range(8)
ORGANS: Final = range(16, 24)
BASSES: Final = range(32, 40)
STRINGS: Final = (*range(40, 46), *range(48, 52))  # bowed, plucked and synthesised; no harp
TIMPANI: Final = range(47, 48)
ENSEMBLES: Final = range(48, 55)  # strings, synth strings, voices; 55, the hit, left out
REEDS_PIPES_LEADS: Final = range(64, 88)
BASS_AND_LEAD: Final = 87  # the last of the leads, which plays either
PADS: Final = range(88, 96)
DRUM_SOUNDS: Final = range(115, 120)  # woodblock to reverse cymbal
SOUND_EFFECTS: Final = range(120, 128)
