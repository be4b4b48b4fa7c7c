"""Writes every sample beat beside this script, the same bytes each time.

Run ``python samples/build.py`` after changing a beat. The beats are our own (CC0-1.0, see
samples/LICENSE) and are written in the notation of rule pages; each stands beside a ``.toml`` file
that says what a check must find in it.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Callable
from pathlib import Path

import mido
import numpy as np

from basslint.rulebook.notation import compile_beat

HERE = Path(__file__).parent

DRUMS = """
kick  | C2:1.5@110 C2:1@96 C2:1.5@104 |*{bars}
snare | .:2 D2:2@108 |*{bars}
hat   | F#2:1/2@70 F#2:1/2@52 F#2:1/2@66 F#2:1/2@50 F#2:1/2@72 F#2:1/2@50 F#2:1/2@64 F#2:1/2@54 |*{bars}
"""

# A late ride home: one root all through, under four chords of its key.
NIGHT_BUS = """
tempo 140
Keys | A3+C4+E4:4@72 | F3+A3+C4:4@70 | A3+C4+E4:4@72 | E3+G3+B3:4@68 |*4
Bell | E5:1@64 C5:1/2 B4:1/2 A4:2 | A4:1 C5:1 F5:2 | E5:1.5 C5:1/2 A4:2 | B4:1 D5:1 B4:2 |*4
Sub  | A1:2.5@104 A1:1.25@96 .:.25 | A1:2.5 A1:1.25 .:.25 | A1:2.5 A1:1.25 .:.25 | A1:2.5 .:.5 A1:1/6@60-108x6 |*4
""" + DRUMS.format(bars=16)

# Wet roofs: the bass follows each chord's root.
WET_ROOFS = """
tempo 146
Pad | C3+Eb3+G3:4@66 | Ab3+C4+Eb4:4@66 | Eb3+G3+Bb3:4@66 | Bb3+D4+F4:4@66 |*4
Lead | G4:1 Eb4:1 C5:2 | C5:1.5 Bb4:1/2 Ab4:2 | G4:1 Bb4:1 Eb5:2 | D5:1 C5:1 Bb4:2 |*4
Sub | C2:2.5@106 C2:1 .:.5 | Ab1:2.5 Ab1:1 .:.5 | Eb2:2.5 Eb2:1 .:.5 | Bb1:2.5 Bb1:1 .:.5 |*4
""" + DRUMS.format(bars=16)

# Two lamps: the root and its octave.
TWO_LAMPS = """
tempo 150
Keys | E3+G3+B3:4@70 | C3+E3+G3:4@70 | G3+B3+D4:4@70 | E3+G3+B3:4@70 |*4
Pluck | B4:1/2 G4:1/2 E4:1 B4:2 | C5:1/2 G4:1/2 E4:1 C5:2 | D5:1/2 B4:1/2 G4:1 D5:2 | B4:1 G4:1 E4:2 |*4
Sub | E1:2@106 E2:1@92 E1:.75 .:.25 | C2:2 C3:1 C2:.75 .:.25 | G1:2 G2:1 G1:.75 .:.25 | E1:2 E2:1 E1:.75 .:.25 |*4
""" + DRUMS.format(bars=16)

# A stairwell: the root for four bars, a step down for two, another step down for two.
STAIRWELL = """
tempo 138
Keys | A3+C4+E4:4@70 | A3+C4+E4:4@70 | A3+C4+E4:4@70 | A3+C4+E4:4@70 | G3+B3+D4:4@70 | G3+B3+D4:4@70 | F3+A3+C4:4@70 | F3+A3+C4:4@70 |*2
Flute | E5:2 C5:2 | A4:4 | C5:2 D5:2 | E5:4 | D5:2 B4:2 | G4:4 | A4:2 C5:2 | F4:4 |*2
Sub | A1:3@104 A1:.75 .:.25 | A1:3.75 .:.25 | A1:3 A1:.75 .:.25 | A1:3.75 .:.25 | G1:3 G1:.75 .:.25 | G1:3.75 .:.25 | F1:3 F1:.75 .:.25 | F1:3.75 .:.25 |*2
""" + DRUMS.format(bars=16)

# Spilled tea: a wrong root in bar 6, a slide out of the scale in bar 3, a slide that lands when the
# sound has died away in bar 9, and a roll in the middle of a phrase in bar 13.
SPILLED_TEA = """
tempo 140
Keys | A3+C4+E4:4@72 | F3+A3+C4:4@72 | C3+E3+G3:4@72 | G3+B3+D4:4@72 |*4
Bell | E5:1 C5:1 A4:2 | C5:1 A4:1 F4:2 | G4:1 E4:1 C5:2 | B4:1 D5:1 G4:2 |*4
Sub | A1:2.5@104 A1:1.25 .:.25 | F1:2.5 F1:1.25 .:.25 | C2:1~.25 C#2:2.75 .:.25 | G1:2.5 G1:1.25 .:.25 || A1:2.5 A1:1.25 .:.25 | F#1:3.75 .:.25 | C2:2.5 C2:1.25 .:.25 | G1:2.5 .:.5 G1:1/6@60-108x6 || A1:3~.25 C2:.75 .:.25 | F1:2.5 F1:1.25 .:.25 | C2:2.5 C2:1.25 .:.25 | G1:2.5 G1:1.25 .:.25 || A1:2.5 .:.5 A1:1/6@60-108x6 | F1:2.5 F1:1.25 .:.25 | C2:2.5 C2:1.25 .:.25 | G1:2.5 G1:1.25 .:.25 |
""" + DRUMS.format(bars=16)

# Ferry queue: four bars of chords alone, then the beat, a shade faster.
FERRY_QUEUE = """
tempo 132
tempo 5 144
marker 1 Intro
marker 5 Beat
marker 13 Out
Keys | D3+F3+A3:4@60 | Bb3+D4+F4:4@60 | F3+A3+C4:4@60 | C3+E3+G3:4@60 |*4
Sub | .:4 | .:4 | .:4 | .:4 || D2:2.5@106 D2:1.25 .:.25 | Bb1:2.5 Bb1:1.25 .:.25 | F1:2.5 F1:1.25 .:.25 | C2:2.5 .:.5 C2:1/6@108-60x6 |*3
kick | .:4 |*4 C2:1.5@110 C2:1@96 C2:1.5@104 |*12
snare | .:4 |*4 .:2 D2:2@108 |*12
"""

# Paper boat: no bass at all, keys and a tune.
PAPER_BOAT = """
tempo 92
Keys | D4+F#4+A4:4@60 | B3+D4+F#4:4@60 | G3+B3+D4:4@60 | A3+C#4+E4:4@60 |*4
Tune | F#5:2 A5:1 F#5:1 | D5:3 C#5:1 | B4:2 D5:2 | C#5:1 E5:3 |*4
"""

# Glass lift: slides by pitch wheel (range 12), up an octave and back within the scale.
GLASS_LIFT = """
tempo 142
Keys | F#3+A3+C#4:4@70 | D3+F#3+A3:4@70 | E3+G#3+B3:4@70 | F#3+A3+C#4:4@70 |*4
Vox | C#5:2 A4:2 | A4:2 F#4:2 | B4:2 G#4:2 | A4:1 G#4:1 F#4:2 |*4
Sub | F#1:3.75@106 .:.25 | D2:3.75 .:.25 | E1:3.75 .:.25 | F#1:3.75 .:.25 |*4
Sub wheel 12
Sub bend | 1:0 1.5:0 1.75:+12 4.8:+12 4.85:0 | 1:0 | 1:0 | 1:0 | 1:0 1.5:0 1.75:+12 4.8:+12 4.85:0 | 1:0 |
""" + DRUMS.format(bars=16)

# Lamp oil: clean by the book, but not by the house rules of the collective it belongs to.
LAMP_OIL = """
tempo 144
Keys | E3+G3+B3:4@70 | C3+E3+G3:4@70 | A3+C4+E4:4@70 | B3+D4+F#4:4@70 |*4
Sub | E1:2.5@104 E1:1.25 .:.25 | C2:2.5 C2:1.25 .:.25 | A1:2.5 A1:1.25 .:.25 | B1:2.5 .:.5 B2:1/4@60-108x4 |*4
""" + DRUMS.format(bars=16)


# The attic: four chords of an old tape; the bass follows them. All harmony is in attic.wav.
ATTIC = """
tempo 96
Sub  | A1:2.5@104 A1:1 .:.5 | F1:2.5 F1:1 .:.5 | C2:2.5 C2:1 .:.5 | G1:2.5 G1:1 .:.5 |*4
""" + DRUMS.format(bars=16)

# The cellar: a loop whose third chord slides up into the fourth, and a bass that slides along with
# it in bars 3, 7, 11 and 15; in bar 6 it plays B under B flat.
CELLAR = """
tempo 96
Sub  | D2:3.5@104 .:.5 | A#1:3.5 .:.5 | G1:3~.6 A1:1 | A1:3.5 .:.5 || D2:3.5 .:.5 | B1:3.5 .:.5 | G1:3~.6 A1:1 | A1:3.5 .:.5 || D2:3.5 .:.5 | A#1:3.5 .:.5 | G1:3~.6 A1:1 | A1:3.5 .:.5 |*2
""" + DRUMS.format(bars=16)

LOOP_RATE, LOOP_BPM = 11_025, 96
ATTIC_CHORDS = ((57, 60, 64, 67), (53, 57, 60, 64), (55, 60, 64, 67), (55, 59, 62, 67))
CELLAR_CHORDS = ((57, 62, 65), (58, 62, 65), (58, 62, 67), (57, 61, 64))
CELLAR_SLIDE = ((58, 61), (62, 64), (67, 69))  # from the third chord to the fourth, a beat long


def tone(pitch: np.ndarray, fall_s: float) -> np.ndarray:
    """A tone of seven overtones that follows a curve of pitches (MIDI numbers) and dies away."""
    hertz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
    phase = 2.0 * np.pi * np.cumsum(hertz) / LOOP_RATE
    wave = sum(0.6**k * np.sin(k * phase) for k in range(1, 8))
    time = np.arange(len(pitch)) / LOOP_RATE
    edge = np.minimum(np.minimum(time / 0.006, (time[-1] - time) / 0.02), 1.0)
    return wave * np.exp(-time / fall_s) * edge


def attic() -> np.ndarray:
    """Plucked chords on beats 1, 2.5 and 4, 12 cents flat, with the hiss of a tape."""
    beat = LOOP_RATE * 60 / LOOP_BPM
    sound = 0.01 * np.random.default_rng(4).standard_normal(round(16 * beat))
    for bar, chord in enumerate(ATTIC_CHORDS):
        for at, long in ((0.0, 1.5), (1.5, 1.5), (3.0, 1.0)):
            begin = round((bar * 4 + at) * beat)
            for pitch in chord:
                wave = tone(np.full(round(long * beat), pitch - 0.12), 0.9)[: len(sound) - begin]
                sound[begin : begin + len(wave)] += wave
    return sound


def cellar() -> np.ndarray:
    """Held chords struck twice a bar; the third slides into the fourth in its last beat."""
    beat = LOOP_RATE * 60 / LOOP_BPM
    sound = np.zeros(round(16 * beat))

    def add(start: float, pitch: np.ndarray) -> None:
        wave = tone(pitch, 6.0)[: len(sound) - round(start * beat)]
        sound[round(start * beat) : round(start * beat) + len(wave)] += wave

    for bar, chord in enumerate(CELLAR_CHORDS[:3]):
        for pitch in chord:
            add(bar * 4.0, np.full(round(2 * beat), float(pitch)))
            if bar < 2:
                add(bar * 4.0 + 2.0, np.full(round(2 * beat), float(pitch)))
    time = np.arange(round(6 * beat)) / beat  # from beat 3 of bar 3 to the end
    for start, end in CELLAR_SLIDE:
        add(10.0, start + (end - start) * np.clip(time - 1.0, 0.0, 1.0))
    return sound


def wav(sound: np.ndarray) -> bytes:
    """A mono WAV file of 16 bits."""
    scaled = np.rint(sound / np.abs(sound).max() * 0.8 * 32767).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(LOOP_RATE)
        out.writeframes(scaled.tobytes())
    return file.getvalue()


def as_written(data: bytes) -> bytes:
    """The compiled file as it is (format 1)."""
    return data


def on_one_track(data: bytes) -> bytes:
    """The same beat as a format 0 file: all parts merged onto one track."""
    source = mido.MidiFile(file=io.BytesIO(data))
    merged = mido.MidiFile(type=0, ticks_per_beat=source.ticks_per_beat)
    merged.tracks.append(mido.merge_tracks([_without_name(t) for t in source.tracks]))
    file = io.BytesIO()
    merged.save(file=file)
    return file.getvalue()


def _without_name(track: mido.MidiTrack) -> mido.MidiTrack:
    """The track without its name: on one track, eight names would fight for one place."""
    kept, waiting = mido.MidiTrack(), 0
    for message in track:
        if message.type == "track_name":
            waiting += message.time
        else:
            kept.append(message.copy(time=message.time + waiting))
            waiting = 0
    return kept


BEATS: dict[str, tuple[str, Callable[[bytes], bytes]]] = {
    "night-bus": (NIGHT_BUS, as_written),
    "wet-roofs": (WET_ROOFS, as_written),
    "two-lamps": (TWO_LAMPS, as_written),
    "stairwell": (STAIRWELL, as_written),
    "spilled-tea": (SPILLED_TEA, as_written),
    "one-reel": (WET_ROOFS, on_one_track),
    "ferry-queue": (FERRY_QUEUE, as_written),
    "paper-boat": (PAPER_BOAT, as_written),
    "glass-lift": (GLASS_LIFT, as_written),
    "lantern-room/lamp-oil": (LAMP_OIL, as_written),
    "tape-box/attic": (ATTIC, as_written),
    "tape-box/cellar": (CELLAR, as_written),
}
LOOPS: dict[str, Callable[[], np.ndarray]] = {"tape-box/attic": attic, "tape-box/cellar": cellar}


def build() -> dict[str, bytes]:
    """Every sample's bytes by file name."""
    return {f"{n}.mid": shape(compile_beat(text).data) for n, (text, shape) in BEATS.items()}


def build_loops() -> dict[str, bytes]:
    """Every loop of sound by file name."""
    return {f"{n}.wav": wav(make()) for n, make in LOOPS.items()}


if __name__ == "__main__":
    for name, data in (build() | build_loops()).items():
        (HERE / name).write_bytes(data)
        print(f"{name}: {len(data)} bytes")
