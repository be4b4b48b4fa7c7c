"""What does a command line ask for, and what is said of a mistyped word?

Only argparse and plain text here, so that `basslint --help` starts at once.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, NoReturn

from basslint import __version__
from basslint.cli.options import COMMANDS
from basslint.cli.values import named
from basslint.errors import UsageError
from basslint.util.terminal import columns
from basslint.util.text import nearest, visible

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

_VERSION = "--version"  # stands alone, before any command
_MARGIN = 2  # columns that argparse leaves free

# argparse's own words on a value that is none of the choices, in Python 3.11 to 3.14
_CHOICE = (
    r"argument (?P<what>[^:]+): invalid choice: '?(?P<given>[^']*?)'? "
    r"\(choose from (?P<known>.*)\)"
)

_LACKS = "the following arguments are required"  # its words, too


_WELCOME = """\
Reads a whole beat as MIDI, hears its chords, key and phrases, and tells \
where the bass is off, why, and what would mend it. To begin:

  basslint check beat.mid      what is off in a song, or in a folder of songs
  basslint mend beat.mid       a mended copy beside the song; the song itself stays
  basslint explain off-root    a rule with its examples: what you hear and why it matters

All commands: `basslint --help`; what one can do: `basslint COMMAND --help`."""


class _Missing(UsageError):
    """Words that a command cannot do without."""


class _Help(argparse.HelpFormatter):
    """Help as wide as the terminal. argparse makes one for each option, and would ask a module for
    the width that takes longer to import than all others of a start together."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=columns() - _MARGIN)


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are basslint's own two plain lines."""

    def error(self, message: str) -> NoReturn:
        choice = re.match(_CHOICE, message)
        if choice:
            known = re.findall(r"[\w-]+", choice["known"])
            near = nearest(choice["given"].lower(), known)
            what, of = choice["what"], ", ".join(known)
            raise UsageError(
                f"{what}: “{choice['given']}” is none of {of}.",
                f"Did you mean {near}?" if near else f"See `{self.prog} --help`.",
            )
        kind = _Missing if message.startswith(_LACKS) else UsageError
        raise kind(f"{message[:1].upper()}{message[1:]}.", f"See `{self.prog} --help`.")

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        """Help and version, at once: argparse's own keeps to itself that they were not written."""
        (file or sys.stderr).write(message)
        sys.stdout.flush()


def _check_encodable(word: str) -> None:
    """Refuse what the system can name no file by; no shell hands it over, a calling program may."""
    try:
        os.fsencode(word)
    except UnicodeEncodeError:
        raise UsageError(
            f"“{visible(word)}” holds half a character, which no file is named by.",
            "Write it with whole ones.",
        ) from None


def parse(words: Sequence[str]) -> argparse.Namespace:
    """Read the command line. Raises `UsageError`; ``--help`` and ``--version`` exit as usual."""
    for word in words:
        _check_encodable(word)
    for word in words:
        if word == "--":
            break
        if word.startswith("-") and word.lower().endswith((".mid", ".midi")) and "=" not in word:
            raise UsageError(f"“{word}” is taken for an option.", f"Write ./{word} for the file.")
    if not words:
        raise UsageError(_WELCOME)
    if words[0] not in COMMANDS:
        known, unknown = _known_and_unknown(_whole_parser(), words)  # which helps, complains, exits
        listed = "Options stand after the command; `basslint COMMAND --help` lists them."
        raise UsageError(f"Unknown option {unknown[0]}.", _near(unknown[0], ()) or listed)
    name, *rest = words  # a run is spared the parsers of the other commands
    known, unknown = _known_and_unknown(parser_of(name), rest)
    known.command = name
    if unknown:
        word, listed = unknown[0], f"See `basslint {name} --help`."
        if not word.startswith("-"):
            raise UsageError(f"“{word}” is one word too many.", listed)
        raise UsageError(f"Unknown option {word}.", _near(word, known.options) or listed)
    if "" in [
        *named(known),
        *(getattr(known, "loop", None) or ()),
    ]:  # `.` to Python, and all that lies here to `check`
        raise UsageError(
            "A path is empty.", "Is a variable of the shell unset? `.` is this folder."
        )
    return known


def _known_and_unknown(
    parser: _Parser, words: Sequence[str]
) -> tuple[argparse.Namespace, list[str]]:
    """The words that are known, and the words that are not. Raises `UsageError`."""
    try:
        return parser.parse_known_args(words)
    except _Missing:
        known, unknown = _whatever_lacks(parser, words)
        if unknown:  # a mistyped option explains more than a word that lacks
            return known, unknown
        raise


def _whatever_lacks(parser: _Parser, words: Sequence[str]) -> tuple[argparse.Namespace, list[str]]:
    needed = [action for action in parser._actions if action.required]
    for action in needed:
        action.required = False
    try:
        return parser.parse_known_args(words)
    finally:
        for action in needed:
            action.required = True


def _near(word: str, options: Sequence[str]) -> str:
    near = nearest(word.split("=")[0], (*options, _VERSION))
    near = f"`basslint {_VERSION}`" if near == _VERSION else near
    return f"Did you mean {near}?" if near else ""


def _whole_parser() -> _Parser:
    """The whole command line, its commands without their words."""
    parser = _Parser(
        prog="basslint",
        description="Checks the bass line of a whole MIDI arrangement before it ships.",
        allow_abbrev=False,
        formatter_class=_Help,
    )
    parser.add_argument(_VERSION, action="version", version=f"basslint {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, (line, _) in COMMANDS.items():
        commands.add_parser(name, help=line, formatter_class=_Help)
    return parser


def parser_of(command: str) -> _Parser:
    """The words of one command."""
    line, fill = COMMANDS[command]
    parser = _Parser(
        prog=f"basslint {command}", description=line, allow_abbrev=False, formatter_class=_Help
    )
    parser.add_argument("--debug", action="store_true", help="show a traceback on a fault")
    fill(parser)
    parser.set_defaults(options=[o for a in parser._actions for o in a.option_strings])
    return parser
