"""Ways to mend a finding: each a documented function from one row to a few edits."""

from __future__ import annotations

__all__ = ["base", "edits"]
