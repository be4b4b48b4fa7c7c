"""A settings file in a folder, and what holds for a song below it."""

from __future__ import annotations

from pathlib import Path

from basslint.settings.discovery import settings_for
from basslint.settings.model import Settings


def settled(folder: Path, text: str, song: str = "beats/a.mid") -> Settings:
    """What holds for a song below a folder with these settings."""
    (folder / "basslint.toml").write_text(text, encoding="utf-8")
    return settings_for(folder / song)
