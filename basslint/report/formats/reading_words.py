"""How is what a rule went by said in words?"""

from __future__ import annotations

from basslint.judging.results import Finding
from basslint.readings.base import registered
from basslint.readings.subjects import Subject, Value
from basslint.report.drawing import marks

_YES_NO = {True: "yes", False: "no", None: "cannot be told"}
_BARE = ("text", "yes or no", "1–127", "MIDI number")  # units that a value is not followed by
_COUNTED = {"beats": "beat", "bars": "bar", "notes": "note", "hits": "hit", "semitones": "semitone"}


def readings_in_words(finding: Finding, subject: Subject | None) -> tuple[tuple[str, str], ...]:
    """(name, value) of a finding's readings: spaces for underscores, yes and no, numbers rounded
    and with their units. ``subject``: what its rule judges, None where that is not known."""
    known = registered(subject) if subject is not None else {}
    return tuple(
        (name.replace("_", " "), in_words(value, known[name].unit if name in known else "text"))
        for name, value in finding.readings
    )


def in_words(value: Value, unit: str) -> str:
    """A value of a reading, with its unit."""
    if value is None or isinstance(value, bool):
        return _YES_NO[value]
    if isinstance(value, str):
        return value.replace("-", " ")
    if value != value:  # NaN
        return _YES_NO[None]
    if unit == "share" or unit.startswith("share of"):
        return marks.percent(value) + unit.removeprefix("share")
    number = marks.number(float(value))
    if unit in _BARE:
        return number
    return f"{number} {_COUNTED.get(unit, unit) if number == '1' else unit}"
