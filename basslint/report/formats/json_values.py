"""How do numbers, paths and objects stand in JSON? What all JSON formats share."""

from __future__ import annotations

import json
import math
from pathlib import PurePath
from typing import Any, Literal

from basslint.readings.subjects import Value

Json = dict[str, Any]  # a JSON object: leaves the formats only as text, or inside a page

SECONDS, BEATS, PITCH, SHARE, TEMPO = 6, 6, 4, 3, 3  # decimals that are kept


def schema(name: Literal["report", "chart"]) -> Json:
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
    """JSON in ASCII, so that no stream's encoding can spoil it."""
    return json.dumps(value, indent=2, ensure_ascii=True, allow_nan=False) + "\n"
