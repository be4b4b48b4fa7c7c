"""What do the commands that let findings stand do?"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.cli.exit_codes import FINE, WRONG_USE
from basslint.cli.output import complain
from basslint.cli.stated import permit, run_options
from basslint.util.text import harmless

if TYPE_CHECKING:
    from basslint.batch.accept import Accepted


def waive(args: Namespace) -> int:
    """``basslint waive``: let a finding stand, for a reason that goes into the settings."""
    from basslint.batch.accept import waive as let_stand

    options = run_options(args)
    return _tell(let_stand(options, Path(args.file), args.rule, permit(args), args.bar))


def accept(args: Namespace) -> int:
    """``basslint accept``: let all that stands today stand, so that only new findings count."""
    from basslint.batch.accept import accept as let_stand
    from basslint.batch.discovery import find_songs

    options = run_options(args)
    return _tell(let_stand(options, find_songs(args.paths), permit(args), args.jobs))


def _tell(done: Accepted) -> int:
    """Say which settings files were written, and which songs were left out."""
    for home, count in done.written:
        print(harmless(f"{home}: {count} waiver{'s' if count != 1 else ''} added."))
    if done.below:
        print(f"{done.below:,} milder left out; --gate note takes all.")
    for problem in done.left_out:
        complain(problem)
    return WRONG_USE if done.left_out else FINE
