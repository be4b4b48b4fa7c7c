"""Which options do several commands share?"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from basslint.cli.values import semitones

STANDARD = "-"  # in place of a file's name: standard output


def add_facts(parser: argparse.ArgumentParser) -> None:
    """State what the file cannot tell."""
    facts = parser.add_argument_group("facts that the file cannot tell")
    facts.add_argument(
        "--bass",
        action="append",
        default=[],
        metavar="PART",
        help='the bass, by its name or as "#2", the number that `basslint chart` prints',
    )
    facts.add_argument(
        "--harmony",
        action="append",
        default=[],
        metavar="PART",
        help="a part that plays the chords, named so too; again for another",
    )
    facts.add_argument("--key", metavar="KEY", help='"F# minor"')
    facts.add_argument(
        "--chords",
        metavar="CHORDS",
        help='"Dm Bb*2 C": the harmony, one chord a bar, over and over; roots alone will do',
    )
    facts.add_argument(
        "--loop",
        action="append",
        metavar="FILE",
        help="a sample that plays along: its harmony; again for another",
    )
    facts.add_argument("--decay", metavar="TIME", help="600ms: time to fall by 60 dB")
    facts.add_argument("--sound", metavar="FILE", help="the bass one-shot, to measure it")
    facts.add_argument(
        "--root-key",
        metavar="NOTE",
        help="F#1: the key at which the sampler plays the one-shot at its own pitch",
    )
    facts.add_argument("--bend-range", type=semitones, metavar="N", help="semitones of a full bend")
    facts.add_argument("--glide-time", metavar="TIME", help="100ms: how long an overlap glides")


def add_format(parser: argparse.ArgumentParser, formats: Sequence[str]) -> None:
    """Choose among some formats."""
    parser.add_argument("--format", choices=formats, default="text", help="(text)")


def add_output(
    parser: argparse.ArgumentParser, help: str = "write there instead of to the terminal"
) -> None:
    """Write to a file."""
    parser.add_argument("--output", type=_file, metavar="FILE", help=help)


def _file(name: str) -> str | None:
    """A file's name; None for ``-``, which is standard output, where reports go unasked."""
    return None if name == STANDARD else name


def add_rules(parser: argparse.ArgumentParser) -> None:
    """Narrow the rules."""
    parser.add_argument(
        "--only", action="append", default=[], metavar="RULE", help="only this rule or family"
    )
    parser.add_argument(
        "--without", action="append", default=[], metavar="RULE", help="all but this rule or family"
    )


def add_settings(parser: argparse.ArgumentParser) -> None:
    """Name the settings file."""
    parser.add_argument("--settings", metavar="FILE", help="use this settings file")


def add_gate(
    parser: argparse.ArgumentParser, help: str = "the lowest level that fails the run (error)"
) -> None:
    """Set the level that fails a run."""
    parser.add_argument("--gate", choices=("error", "warning", "note"), help=help)
