"""Strips, maps and rolls: one picture for terminal, pipe and page."""

__all__ = ["canvas", "focus", "look", "marks", "roll", "song_map", "strip"]
