"""Loops of sound made of numbers: tones with overtones, noise, clicks; no file is needed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

RATE = 22_050
Floats = NDArray[np.float64]

C_MAJOR, A_MINOR, F_MAJOR, G_MAJOR = (
    (48, 55, 60, 64),
    (45, 57, 60, 64),
    (41, 57, 60, 65),
    (43, 55, 59, 62),
)
PROGRESSION = (C_MAJOR, A_MINOR, F_MAJOR, G_MAJOR)
ROOTS = (0, 9, 5, 7)


def tone(pitch: float, seconds: float, decay_s: float = 1.5) -> Floats:
    """A plucked tone with eight overtones, MIDI number with fractions."""
    time = np.arange(round(seconds * RATE)) / RATE
    hertz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
    wave = sum(
        0.7**k * np.sin(2 * np.pi * hertz * k * time) for k in range(1, 9) if hertz * k < RATE / 2
    )
    slope = np.minimum(time / 0.005, 1.0) * np.minimum((seconds - time) / 0.01, 1.0)
    return np.asarray(wave * np.exp(-time / decay_s) * np.maximum(slope, 0.0))


def chords(
    bpm: float, pitches: tuple[tuple[int, ...], ...] = PROGRESSION, cents: float = 0.0
) -> Floats:
    """One bar of 4/4 for each chord, struck on every beat."""
    beat = 60.0 / bpm
    frames = round(len(pitches) * 4 * beat * RATE)
    sound = np.zeros(frames)
    for bar, chord in enumerate(pitches):
        for k in range(4):
            begin = round((bar * 4 + k) * beat * RATE)
            for pitch in chord:
                wave = tone(pitch + cents / 100.0, beat)[: frames - begin]
                sound[begin : begin + len(wave)] += wave
    return sound * 0.8 / np.abs(sound).max()


def hits(bpm: float, beats: int) -> Floats:
    """Bursts of noise on every beat, as a snare."""
    rng = np.random.default_rng(1)
    frames, step = round(beats * 60.0 / bpm * RATE), 60.0 / bpm * RATE
    sound = np.zeros(frames)
    for k in range(beats):
        burst = rng.standard_normal(RATE // 5) * np.exp(-np.arange(RATE // 5) / 900.0)
        begin = round(k * step)
        sound[begin : begin + len(burst)] += burst[: frames - begin]
    return sound * 0.8 / np.abs(sound).max()


def rumble(seconds: float) -> Floats:
    """Noise whose level falls by 6 dB an octave above 20 Hz, as of wind and sea."""
    frames = round(seconds * RATE)
    spectrum = np.fft.rfft(np.random.default_rng(1).standard_normal(frames))
    hertz = np.fft.rfftfreq(frames, 1 / RATE)
    noise = np.fft.irfft(spectrum / np.maximum(hertz, 20.0), frames)
    return np.asarray(noise * 0.5 / np.abs(noise).max())


def write(path: Path, sound: Floats, rate: int = RATE, subtype: str = "PCM_16") -> Path:
    """Write a WAV file, and give its path."""
    soundfile.write(path, sound, rate, subtype=subtype)
    return path


def gliding():
    """A minor that slides into D minor over its sixteenth beat of 32, at 100 quarters a minute."""
    beat = round(0.6 * RATE)
    slope = np.clip((np.arange(32 * beat) - 15 * beat) / beat, 0.0, 1.0)
    pitch = np.array([57.0, 60.0, 64.0])[:, None] + 5.0 * slope
    phase = np.cumsum(440.0 * 2.0 ** ((pitch - 69.0) / 12.0), axis=1) * 2 * np.pi / RATE
    sound = sum(0.6**k * np.sin(k * phase) for k in range(1, 7)).sum(axis=0)
    return sound * 0.8 / np.abs(sound).max()


def voice(
    seconds: float, sways_hz: float = 0.3, semitones: float = 4.0, hertz: float = 150.0
) -> Floats:
    """One tone of eleven overtones that sways so many semitones up and down, as speech does."""
    time = np.arange(round(seconds * RATE)) / RATE
    tones = hertz * 2.0 ** (semitones / 12.0 * np.sin(2 * np.pi * sways_hz * time))
    turn = 2 * np.pi * np.cumsum(tones) / RATE
    return np.asarray(sum(np.sin(k * turn) / k for k in range(1, 12)))
