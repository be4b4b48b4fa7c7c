"""How do numbers, paths and objects stand in JSON? What all JSON formats share."""

from __future__ import annotations

import json
import math
from json.encoder import encode_basestring_ascii
from pathlib import PurePath
from typing import Any, Literal

from basslint.readings.subjects import Value

Json = dict[str, Any]  # a JSON object: leaves the formats only as text, or inside a page

_ENCODER = json.JSONEncoder(allow_nan=False)

SECONDS, BEATS, PITCH, SHARE, TEMPO = 6, 6, 4, 3, 3  # decimals that are kept


def schema(name: Literal["report", "chart", "mend", "loop", "sound"]) -> Json:
    """The JSON Schema (draft 2020-12) of a format."""
    from importlib import resources

    file = resources.files("basslint.report") / "schemas" / f"{name}.json"
    loaded: Json = json.loads(file.read_text(encoding="utf-8"))
    return loaded


def share(certainty: float) -> float | None:
    """A certainty with the decimals that are kept."""
    return number(float(certainty), SHARE)


def plain(value: Value) -> Value:
    """A reading's value; null for NaN."""
    return number(value, SECONDS) if isinstance(value, float) else value


def number(value: float, decimals: int) -> float | None:
    """A number with so many decimals; null where it is not finite."""
    return round(value, decimals) if math.isfinite(value) else None


def posix(path: str) -> str:
    """A path with slashes, whatever the system."""
    return PurePath(path).as_posix()


def text(value: Json) -> str:
    """JSON in ASCII, so that no stream's encoding can spoil it; two spaces for each depth."""
    return indented(value) + "\n"


def indented(value: object, lead: str = "\n") -> str:
    """What ``json.dumps(value, indent=2, allow_nan=False)`` gives, in a third of its time: in the
    standard library only JSON on one line is quick. ``lead``: a line end and what a line begins
    with. Raises `ValueError` for NaN and infinity, `TypeError` for what JSON has no word for.
    """
    kind = type(value)
    if kind is str:
        return encode_basestring_ascii(value)  # type: ignore[arg-type]  # a text
    if kind is int or (kind is float and math.isfinite(value)):  # type: ignore[arg-type]
        return repr(value)
    if kind is not dict and kind is not list and kind is not tuple:
        return _ENCODER.encode(value)
    deeper = f"{lead}  "
    if kind is dict:
        members = [
            f"{encode_basestring_ascii(name)}: {indented(held, deeper)}"
            for name, held in value.items()  # type: ignore[attr-defined]  # an object
        ]
        return f"{{{deeper}{f',{deeper}'.join(members)}{lead}}}" if members else "{}"
    members = [indented(held, deeper) for held in value]  # type: ignore[attr-defined]  # a list
    return f"[{deeper}{f',{deeper}'.join(members)}{lead}]" if members else "[]"
