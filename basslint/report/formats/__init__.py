"""Which module writes which format?"""

from __future__ import annotations

from importlib import import_module
from typing import cast

from basslint.report.section import Format

__all__ = [
    "MODULES",
    "book",
    "catalogue",
    "chart_text",
    "explain_page",
    "format_named",
    "guide_text",
    "html",
    "html_folder",
    "json_chart",
    "json_report",
    "lesson_text",
    "loop_json",
    "loop_text",
    "mend_json",
    "mend_text",
    "nudge_data",
    "page_parts",
    "sound_json",
    "sound_text",
]

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
