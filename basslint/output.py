"""Where does a report go, and in which bytes?"""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable
from pathlib import Path


def write(args: Namespace, pieces: Iterable[str]) -> None:
    """Write to standard output, or to the file of ``--output``, which appears once it is complete.

    What machines read is UTF-8, whatever the terminal speaks.
    """
    if args.output:
        from basslint.files import write_atomically

        write_atomically(Path(args.output), _utf8("".join(pieces)))
    elif getattr(args, "format", "json") == "text":
        for piece in pieces:
            sys.stdout.write(piece)
    else:
        sys.stdout.flush()
        for piece in pieces:
            sys.stdout.buffer.write(_utf8(piece))
        sys.stdout.buffer.flush()


def _utf8(text: str) -> bytes:
    return text.encode("utf-8", "backslashreplace")
