"""What was measured in a bass one-shot as JSON, format "basslint-sound/1".

Its JSON Schema is ``schemas/sound.json``. Seconds from 0, levels in dB below the sound's own peak
except ``peak_db`` (below full scale). What is not known is null.
"""

from __future__ import annotations

from basslint.report.formats.json_values import Json, number, posix, text
from basslint.sound.one_shot import SoundReport
from basslint.theory.names import pitch_name

_SECONDS, _LEVEL, _PITCH = 4, 2, 3  # decimals that are kept


def sound_json(sound: SoundReport) -> str:
    """A measured sound as JSON. The same sound gives the same bytes."""
    return text(sound_object(sound))


def sound_object(sound: SoundReport) -> Json:
    """A measured sound as plain JSON values."""
    pitch = None
    if sound.pitch_hz is not None and sound.note is not None:
        pitch = {
            "hz": _number(sound.pitch_hz, _PITCH),
            "note": sound.note,
            "name": pitch_name(sound.note),
            "cents_off": _number(sound.cents_off, 1),
            "settled_s": _number(sound.settled_s, _SECONDS),
            "certainty": _number(sound.pitch_certainty, 2),
            "sway_cents": _number(sound.sway_cents, 1),
        }
    stated = sound.root_key
    root_key = None if stated is None else {
        "key": _number(stated.key, _PITCH), "source": stated.source, "default": stated.default
    }  # fmt: skip
    hint = None if sound.hint is None else {
        "pitch_class": sound.hint.pitch_class, "text": sound.hint.text
    }  # fmt: skip
    decay = None
    if sound.t60_s is not None:
        decay = {
            "t60_s": _number(sound.t60_s, _SECONDS),
            "fit": {
                "start_s": _number(sound.fit_from_s, _SECONDS),
                "end_s": _number(sound.fit_to_s, _SECONDS),
                "start_db": _number(sound.fit_from_db, _LEVEL),
                "end_db": _number(sound.fit_to_db, _LEVEL),
                "error_db": _number(sound.fit_error_db, _LEVEL),
            },
        }
    return {
        "schema": "basslint-sound/1",
        "path": posix(sound.path),
        "sample_rate": sound.sample_rate,
        "channels": sound.channels,
        "duration_s": _number(sound.duration_s, _SECONDS),
        "peak_db": _number(sound.peak_db, _LEVEL),
        "clipped": sound.clipped,
        "loops": sound.loops,
        "pitch": pitch,
        "root_key": root_key,
        "name_hint": hint,
        "decay": decay,
        "noise_db": _number(sound.noise_db, _LEVEL),
        "level": {
            "time_s": [_number(t, _SECONDS) for t in sound.time_s.tolist()],
            "db": [_number(v, _LEVEL) for v in sound.level_db.tolist()],
        },
        "remarks": list(sound.remarks),
    }


def _number(value: float | None, decimals: int) -> float | None:
    return None if value is None else number(float(value), decimals)
