"""What does a bass one-shot sound like: its pitch, its decay, whether it loops or clips?

Decay after ISO 3382: a straight line through the level curve from 5 dB below its peak down to
35 dB below (or to 10 dB above the noise), carried on to 60 dB. Measured on what a bass is heard by,
the band below 1 kHz.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.errors import SoundError
from basslint.sound.decay import LEAST_FALL_DB, Decay, decibels, fit_decay, power_curve
from basslint.sound.opening import checked_peak, opened, silence
from basslint.sound.pitch import Pitch, hear_pitch
from basslint.sound.root_key import NameHint, RootKey, hint_in_name
from basslint.sound.sampler_chunk import SamplerChunk, read_sampler_chunk
from basslint.theory.tuning import A4, A4_HZ
from basslint.util.columns import distinct
from basslint.util.records import record

LONGEST_S = 60.0  # a one-shot is shorter; a whole song is a wrong file
SHORTEST_S = 0.05  # one period of 20 Hz: less holds no bass note
_BAND_HZ = 1000.0
_RATE_HZ = 6000.0  # of the band, with room to spare
_PERIOD_S = 0.025  # of 40 Hz: a guess until the pitch is known
_SILENT_DB = -80.0

_CURVE_POINTS = 240

_FLAT_SHARE = 0.02  # of a period: a sine at full scale is flat for 0.3 % of it in 16 bits
_FULL_SCALE = 0.97
_NO_CHUNK = SamplerChunk()


@record(eq=False, kw_only=True)
class SoundReport:
    """What was measured in one sound file.

    ``peak_db`` dB below full scale. ``pitch_hz`` of the settled sound, ``note`` its nearest MIDI
    number and ``cents_off`` how far it is from that (−50..50); ``settled_s``: from when on the
    pitch stays within 5 cents of it, None where it fades before that is sure;
    ``pitch_certainty``: chance that the note is right; ``sway_cents``: half the width of a vibrato.
    All None where no note is claimed, and ``remarks`` say why. ``root_key``: the key at which the
    file says that it plays at its own pitch; ``hint``: a note in its name. ``t60_s``: time to fall
    by 60 dB, None where the level does not fall far enough; ``fit_from_s``, ``fit_to_s``,
    ``fit_from_db``, ``fit_to_db``: the stretch of the level curve that it was read from, dB below
    the peak; ``fit_error_db``: how far the curve strays from the line there (root mean square).
    ``time_s``, ``level_db`` float64 [k]: the level curve, dB below its peak. ``noise_db``: level of
    the noise it falls into, None where it does not reach it. ``loops``: the file marks loop points,
    or its level does not fall. ``remarks``: plain sentences.
    """

    path: str
    sample_rate: int
    channels: int
    duration_s: float
    peak_db: float
    clipped: bool
    loops: bool
    pitch_hz: float | None
    note: int | None
    cents_off: float | None
    settled_s: float | None
    pitch_certainty: float | None
    sway_cents: float | None
    root_key: RootKey | None
    hint: NameHint | None
    t60_s: float | None
    fit_from_s: float | None
    fit_to_s: float | None
    fit_from_db: float | None
    fit_to_db: float | None
    fit_error_db: float | None
    noise_db: float | None
    time_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    remarks: tuple[str, ...]

    @property
    def pitch(self) -> float | None:
        """Its pitch as a MIDI number with a fraction, None where no note is claimed."""
        if self.note is None or self.cents_off is None:
            return None
        return self.note + self.cents_off / 100


def measure_sound(path: str | Path) -> SoundReport:
    """Read and measure a WAV, FLAC, AIFF or OGG file.

    Raises `SoundError` for a file that is missing, no sound, silent, too short or too long.
    """
    samples, rate = read_sound(path)
    return measure_samples(samples, rate, str(path), read_sampler_chunk(path))


def read_sound(path: str | Path) -> tuple[NDArray[np.float64], int]:
    """The samples, float64 [frames, channels] with full scale at 1, and the sample rate in Hz."""
    return opened(path, "sound", lambda sound: _read(sound, str(path)))


def _read(sound: Any, path: str) -> tuple[NDArray[np.float64], int]:
    rate = int(sound.samplerate)
    if sound.frames > LONGEST_S * rate:
        raise SoundError(
            f"The sound {path} lasts {sound.frames / rate:.0f} s; "
            f"a one-shot is shorter than {LONGEST_S:.0f} s.",
            "Give the one-shot of the bass alone, not a loop or a song.",
        )
    samples = sound.read(dtype="float64", always_2d=True)
    return np.asarray(samples, dtype=np.float64), rate


def measure_samples(
    samples: NDArray[np.float64], rate: int, path: str = "", chunk: SamplerChunk = _NO_CHUNK
) -> SoundReport:
    """Measure samples, float64 [frames, channels]; see `measure_sound`.

    ``chunk``: what the file that they are from tells a sampler.
    """
    peak = _checked_peak(samples, rate, path)
    band, band_rate = _bass_band(samples, rate)
    rough, noise = fit_decay(*power_curve(band, band_rate, _PERIOD_S), 0.0)
    loudest = band[:, int(np.argmax((band**2).sum(axis=0)))]
    pitch = hear_pitch(loudest, band_rate, rough.t60_s if rough else None, noise)
    period = 1.0 / pitch.hz if pitch.hz else _PERIOD_S
    time, power = power_curve(band, band_rate, period)
    clip_end = _clip_end(samples, rate, period)
    decay, noise = fit_decay(time, power, 0.0 if clip_end is None else clip_end + period)
    level = decibels(power / power.max())
    steady = decay is None and float(level[-1]) > -2 * LEAST_FALL_DB
    thin = distinct(np.linspace(0, len(time) - 1, _CURVE_POINTS).astype(int))
    note, cents_off = _nearest_note(pitch)
    return SoundReport(
        path=path,
        sample_rate=rate,
        channels=samples.shape[1],
        duration_s=len(samples) / rate,
        peak_db=float(20 * np.log10(peak)),
        clipped=clip_end is not None or peak > 1.0,
        loops=chunk.loops or steady,
        pitch_hz=pitch.hz,
        note=note,
        cents_off=cents_off,
        settled_s=pitch.settled_s,
        pitch_certainty=pitch.certainty if pitch.hz else None,
        sway_cents=pitch.sway if pitch.hz else None,
        root_key=chunk.root_key,
        hint=hint_in_name(path),
        t60_s=decay.t60_s if decay else None,
        fit_from_s=decay.from_s if decay else None,
        fit_to_s=decay.to_s if decay else None,
        fit_from_db=decay.from_db if decay else None,
        fit_to_db=decay.to_db if decay else None,
        fit_error_db=decay.error_db if decay else None,
        noise_db=noise,
        time_s=time[thin],
        level_db=level[thin],
        remarks=_remarks(pitch, decay, chunk.loops, steady, clip_end, peak),
    )


def _checked_peak(samples: NDArray[np.float64], rate: int, path: str) -> float:
    """The largest sample. Raises `SoundError` for what is no bass note: too short, silent, …"""
    duration = len(samples) / rate
    if duration < SHORTEST_S:
        raise SoundError(
            f"The sound {path} lasts {duration * 1000:.0f} ms, too short for a bass note.",
            "Give the whole one-shot.",
        )
    peak = checked_peak(samples, "sound", path)
    moves = float(np.max(samples.max(axis=0) - samples.min(axis=0)))
    if moves < 10 ** (_SILENT_DB / 20):
        raise silence("sound", path, peak > moves, "Give a file in which the bass sounds.")
    return peak


def _nearest_note(pitch: Pitch) -> tuple[int | None, float | None]:
    if pitch.hz is None:
        return None, None
    exact = A4 + 12.0 * float(np.log2(pitch.hz / A4_HZ))
    return round(exact), 100.0 * (exact - round(exact))


def _remarks(
    pitch: Pitch,
    decay: Decay | None,
    loop_points: bool,
    steady: bool,
    clip_end: float | None,
    peak: float,
) -> tuple[str, ...]:
    found = []
    if pitch.reason:
        found.append(pitch.reason)
    elif pitch.settled_s is None:
        found.append(
            "The sound fades before its pitch is sure to the cent: take its cents as rough."
        )
    if loop_points:
        found.append("The file marks loop points: a sampler that follows them never lets it decay.")
    if steady:
        found.append("The level does not fall: the sound stops only with its note or its file.")
    elif decay is None:
        found.append("The level falls too little, or not evenly, to tell a decay time.")
    elif decay.error_db > 3.0:
        found.append("The level does not fall in a straight line: take the decay as rough.")
    if clip_end is not None:
        found.append(f"It clips up to {clip_end * 1000:.0f} ms; the decay was read after that.")
    elif peak > 1.0:
        found.append("It passes full scale: it will clip where it is not turned down.")
    return tuple(found)


def _bass_band(samples: NDArray[np.float64], rate: int) -> tuple[NDArray[np.float64], float]:
    """The sound below 1 kHz at a low sample rate, its constant offset removed: [frames, c], Hz."""
    tail = samples[-max(len(samples) // 5, 1) :]
    pad = rate // 4  # keeps the end of the sound from wrapping into its beginning
    whole = len(samples) + pad
    spectrum = np.fft.rfft(samples - tail.mean(axis=0), n=whole, axis=0)
    hertz = np.arange(len(spectrum)) * rate / whole
    slope = np.clip((1.5 * _BAND_HZ - hertz) / (0.5 * _BAND_HZ), 0.0, 1.0)
    spectrum *= (0.5 - 0.5 * np.cos(np.pi * slope))[:, None]
    if rate <= _RATE_HZ:
        return np.fft.irfft(spectrum, n=whole, axis=0)[: len(samples)], float(rate)
    short = round(whole * _RATE_HZ / rate)
    band = np.fft.irfft(spectrum[: short // 2 + 1], n=short, axis=0) * (short / whole)
    band_rate = rate * short / whole
    return band[: int(len(samples) * band_rate / rate)], band_rate


def _clip_end(samples: NDArray[np.float64], rate: int, period_s: float) -> float | None:
    """Second at which the last flat top at full scale ends, None where nothing clips."""
    least = max(3, round(_FLAT_SHARE * period_s * rate))
    last = -1
    for channel in samples.T:
        for side in (channel, -channel):
            top = float(side.max())
            if top < _FULL_SCALE:
                continue
            flat = np.concatenate(([0], (side >= top - 1.5 / 32768).astype(np.int8), [0]))
            edges = np.diff(flat)
            begins, ends = np.flatnonzero(edges > 0), np.flatnonzero(edges < 0)
            long = ends[ends - begins >= least]
            if len(long):
                last = max(last, int(long[-1]))
    return last / rate if last >= 0 else None
