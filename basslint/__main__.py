"""``python -m basslint``, and the command ``basslint``."""

import gc
import sys

from basslint.cli.main import main


def command() -> int:
    """Run the command of this process, which ends with it; returns its exit code."""
    code = main()
    gc.freeze()  # nothing is looked through for garbage any more: it took a twentieth of a check
    return code


if __name__ == "__main__":
    sys.exit(command())
