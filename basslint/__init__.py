"""basslint checks the bass line of a whole MIDI arrangement before it ships.

>>> import basslint
>>> report = basslint.check("night-bus.mid")          # doctest: +SKIP
>>> [f.message for f in report.files[0].findings]     # doctest: +SKIP

``check`` gives findings, ``chart`` what was heard, ``mend`` a corrected copy. Everything raised on
purpose is a `BasslintError`; its kinds stand in `basslint.errors`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = [
    "BasslintError",
    "Chart",
    "Choice",
    "Facts",
    "FileReport",
    "Finding",
    "MendResult",
    "Report",
    "Settings",
    "Song",
    "chart",
    "check",
    "mend",
]

if TYPE_CHECKING:
    from basslint.api import chart, check, mend
    from basslint.errors import BasslintError
    from basslint.hear.chart import Chart
    from basslint.hear.facts import Facts
    from basslint.judging.results import FileReport, Finding, Report
    from basslint.mending.account import Choice, MendResult
    from basslint.settings.model import Settings
    from basslint.song.arrangement import Song

# No module shares a name with these: importing it would put the module in the function's place.
_HOMES = {
    "BasslintError": "errors",
    "Chart": "hear.chart",
    "Choice": "mending.account",
    "Facts": "hear.facts",
    "FileReport": "judging.results",
    "Finding": "judging.results",
    "MendResult": "mending.account",
    "Report": "judging.results",
    "Settings": "settings.model",
    "Song": "song.arrangement",
    "chart": "api",
    "check": "api",
    "mend": "api",
}


def __getattr__(name: str) -> Any:
    """Import on first use: `basslint --version` must not wait for numpy (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'basslint' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"basslint.{_HOMES[name]}"), name)
