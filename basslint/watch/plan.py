"""What is asked of a run that follows?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.settings.run_options import RunOptions

LOOPBACK = "127.0.0.1"


@record(kw_only=True)
class Plan:
    """What is followed, what is stated, at which port (0: any that is free), whether the browser is
    opened, whether plain lines are written instead of a screen."""

    root: Path
    options: RunOptions
    port: int = 0
    opens: bool = True
    text: bool = False
