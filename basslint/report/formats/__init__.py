"""Which module writes which format?"""

from __future__ import annotations

from importlib import import_module
from typing import cast

from basslint.report.section import Format

MODULES = {
    "text": "text",
    "json": "json_report",
    "sarif": "sarif",
    "junit": "junit",
    "markdown": "markdown",
    "html": "html",
}


def format_named(name: str) -> Format:
    """The module of a format, imported when it is asked for."""
    return cast(Format, import_module(f"basslint.report.formats.{MODULES[name]}"))
