"""Where does a report go, and in which bytes?"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from argparse import Namespace
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TextIO

from basslint.cli.shared_options import STANDARD
from basslint.cli.values import named
from basslint.errors import UsageError
from basslint.util.terminal import broken_at_words, columns
from basslint.util.text import harmless

_LONG_QUOTE = r"([“'][^”'\n]{200})[^”'\n]+([”'])"


def write(args: Namespace, pieces: Iterable[str]) -> None:
    """Write to standard output, or to the file of ``--output``, which appears once it is complete.

    What machines read is UTF-8, whatever the terminal speaks.
    """
    if args.output:
        from basslint.util.files import write_atomically

        write_atomically(Path(args.output), _utf8("".join(pieces)))
        tell_where(args, Path(args.output))
    elif getattr(args, "format", "json") == "text":
        for piece in pieces:
            sys.stdout.write(piece)
    else:
        sys.stdout.flush()
        for piece in pieces:
            sys.stdout.buffer.write(_utf8(piece))
        sys.stdout.buffer.flush()


def tell_where(args: Namespace, page: Path) -> None:
    """Say on a terminal where something was written, and how a page is opened.

    Elsewhere who reads standard error reads of mistakes alone.
    """
    if sys.stderr.isatty():
        whole = page.resolve()
        html = getattr(args, "format", "") == "html"
        complain(f"Wrote {page}." + (f"\nOpen it in a browser: {whole.as_uri()}" if html else ""))


def keep_from_terminal(args: Namespace) -> None:
    """Refuse to fill a terminal with the text of a page. Raises `UsageError`."""
    if getattr(args, "format", "") == "html" and not args.output and sys.stdout.isatty():
        raise UsageError(
            "Standard output is a terminal, which shows no page.",
            "Write it to a file with --output PAGE.html, and open that in a browser.",
        )


def write_bytes(data: bytes, what: str) -> None:
    """Write a song or a sound to standard output. Raises `UsageError` where that is a terminal."""
    if sys.stdout.isatty():
        raise UsageError(
            f"Standard output is a terminal, which shows no {what}.",
            "Name a file with --output, or lead it into another program.",
        )
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def is_folder(output: str | None) -> bool:
    """Whether ``--output`` names a folder: one that is there, or by the slash at its end."""
    return bool(output) and (str(output).endswith(("/", os.sep)) or Path(str(output)).is_dir())


def write_folder(folder: Path, pages: Iterable[tuple[str, str]]) -> None:
    """Write pages (file name, text) into a folder, which is made if it is missing.

    Raises `UsageError` where it cannot be.
    """
    from basslint.util.files import write_all

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(
            f"--output: {folder} cannot be made: {error.strerror}.", "Name another folder."
        ) from None
    write_all((folder / name, _utf8(text)) for name, text in pages)


@contextlib.contextmanager
def standing_streams() -> Iterator[None]:
    """Put streams in the place of those that the caller has closed: what is told there is refused,
    what is complained of is lost, and no file that is opened gets their numbers."""
    before = sys.stdout, sys.stderr
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open()  # noqa: SIM115  # open for reading: it takes nothing
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w")  # noqa: SIM115
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def give_up(stream: TextIO) -> None:
    """Let what is still to be written to a standard stream go nowhere: at its end Python would try
    again, and say so in its own words and by an exit code of its own."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def complain(text: str) -> None:
    """Say on standard error what went wrong; what was quoted is cut where it fills the screen.

    Where standard error takes nothing more, the exit code alone tells.
    """
    told = re.sub(_LONG_QUOTE, "\\1…\\2", harmless(f"basslint: {text}"))
    try:
        if sys.stderr.isatty():
            told = broken_at_words(told, columns(sys.stderr))
        print(told, file=sys.stderr)
        sys.stderr.flush()
    except (OSError, ValueError):
        give_up(sys.stderr)


def keep_inputs(args: Namespace, target: Path) -> None:
    """Refuse to write over what the command reads. Raises `UsageError`.

    Reads are: its songs and folders of songs, reports, sounds, and settings.
    """
    if str(target) == STANDARD or not target.exists():
        return
    for path in _inputs(args, target):
        if path.exists() and path.samefile(target):
            raise UsageError(
                f"{target} is read by this command, so it is not written over.",
                "Name another file with --output"
                + (", or mend it --in-place." if args.command == "mend" else "."),
            )


def _inputs(args: Namespace, target: Path) -> Iterator[Path]:
    from basslint.batch.discovery import find_songs
    from basslint.settings.discovery import settings_for
    from basslint.settings.model import FILE_NAME
    from basslint.util.files import SUFFIXES

    given = named(args)
    stated = [getattr(args, "sound", None), getattr(args, "settings", None)]
    stated += getattr(args, "loop", None) or []
    yield from (Path(p) for p in (*given, *stated) if p)
    if target.name == FILE_NAME:
        yield target
    if target.suffix.lower() in SUFFIXES:  # a song below a folder that is checked
        whole = target.resolve()
        if any(whole.is_relative_to(Path(p).resolve()) for p in given if Path(p).is_dir()):
            yield target
    if given and args.command in ("audition", "chart", "check", "explain", "mend"):
        for path in find_songs(given):
            settings = settings_for(path, Path(args.settings) if args.settings else None)
            sounds = (settings.facts.sound, *(s.file for s in settings.part_sounds))
            yield from (Path(s) for s in sounds if s)


def _utf8(text: str) -> bytes:
    return text.encode("utf-8", "backslashreplace")
