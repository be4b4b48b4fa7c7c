"""Strips, maps and rolls: one picture for terminal, pipe and page."""
