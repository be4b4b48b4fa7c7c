"""Which words does the command line know?

`parsing` reads them. Only argparse and plain text here, so that `basslint --help` starts at once.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable

from basslint.cli.shared_options import (
    add_facts,
    add_format,
    add_gate,
    add_output,
    add_rules,
    add_settings,
)
from basslint.cli.values import bar, bars, count, port, tempo

CHECK_FORMATS = ("text", "json", "sarif", "junit", "html", "markdown")
PLAIN_FORMATS = ("text", "json")
PAGE_FORMATS = ("text", "json", "html")


def _explain(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("rule", metavar="RULE", help="its name, as `basslint rules` lists it")
    parser.add_argument("file", metavar="FILE", nargs="?", help="show it on this file's own notes")
    add_facts(parser)
    add_format(parser, ("text", "html"))
    add_output(parser)
    add_settings(parser)


def _catalogue(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--readings", action="store_true", help="list what a house rule may ask")
    add_format(parser, PAGE_FORMATS)
    add_output(parser)
    add_settings(parser)


def _sound(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="WAV, FLAC, AIFF or OGG")
    add_format(parser, PLAIN_FORMATS)


def _waive(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the song")
    parser.add_argument("rule", metavar="RULE", help="the rule that found it")
    parser.add_argument("--bar", type=bar, metavar="N", help="only the finding in this bar")
    _permit(parser)


def _accept(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("paths", metavar="PATH", nargs="+", help="MIDI files, or folders of them")
    parser.add_argument("--jobs", type=count, metavar="N", help="worker processes (automatic)")
    add_gate(parser, "the lowest level let stand (warning; note where notes fail the run)")
    _permit(parser)


def _permit(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reason", required=True, metavar="TEXT", help="why it may stand")
    parser.add_argument("--until", metavar="DATE", help="last day, like 2027-01-31")
    add_facts(parser)
    add_settings(parser)


def _merge(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "reports", metavar="REPORT.json", nargs="+", help="as `check --format json` writes them"
    )
    add_output(parser)
    add_gate(parser)


def _check(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("paths", metavar="PATH", nargs="+", help="MIDI files, or folders of them")
    add_facts(parser)
    add_format(parser, CHECK_FORMATS)
    add_output(parser, "write there instead of to the terminal; with --format html also FOLDER/")
    add_rules(parser)
    add_gate(parser)
    parser.add_argument(
        "--strict",
        action="store_true",
        help="what could not be judged for want of a fact fails the run",
    )
    add_settings(parser)
    parser.add_argument(
        "--show-settings",
        action="store_true",
        help="print what holds for each file, and from where",
    )
    parser.add_argument(
        "--together",
        action="store_true",
        help="read the files, or those of each folder, as one arrangement",
    )
    many = parser.add_argument_group("many files")
    many.add_argument("--jobs", type=count, metavar="N", help="worker processes (automatic)")
    many.add_argument("--shard", metavar="K/N", help="only the K-th of every N files, like 2/5")
    many.add_argument("--no-cache", action="store_true", help="check every file anew")


def _chart(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a MIDI file, or a loop: WAV, FLAC, AIFF, OGG")
    add_facts(parser)
    add_format(parser, PLAIN_FORMATS)
    add_output(parser)
    add_settings(parser)
    loop = parser.add_argument_group("a loop of sound")
    loop.add_argument("--bpm", type=tempo, metavar="N", help="its tempo, quarters per minute")
    loop.add_argument("--bars", type=bars, metavar="N", help="how many bars it is long")
    loop.add_argument("--meter", metavar="N/D", help="its meter (4/4)")
    loop.add_argument(
        "--begins", metavar="TIME", help='where its first bar begins: 35ms, or "-1 beat" of pickup'
    )
    # values, not options, as plain numbers are to argparse: -1beat, -35ms
    parser._negative_number_matcher = re.compile(r"-\d")
    guide = parser.add_argument_group("the roots handed back")
    guide.add_argument(
        "--guide", metavar="OUT.mid", help="write the roots as held notes, a MIDI file to play by"
    )
    guide.add_argument(
        "--octave",
        type=int,
        choices=range(8),
        metavar="N",
        help="its octave of a song's roots, from F up to E of the next (1)",
    )


def _mend(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a MIDI file, or a folder of a beat's parts")
    add_facts(parser)
    add_format(parser, PLAIN_FORMATS)
    add_rules(parser)
    add_settings(parser)
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--output", metavar="FILE", help="where to write (NAME.mended.mid); - for standard output"
    )
    where.add_argument("--in-place", action="store_true", help="overwrite the file itself")
    where.add_argument("--dry-run", action="store_true", help="list the edits, write nothing")
    parser.add_argument(
        "--by-ear", action="store_true", help="apply fixes that may change what was meant"
    )


def _watch(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("path", metavar="PATH", help="a folder of MIDI files, or one file")
    parser.add_argument(
        "--port", type=port, default=0, metavar="N", help="of the page (any that is free)"
    )
    parser.add_argument(
        "--together", action="store_true", help="the files of each folder are one arrangement"
    )
    parser.add_argument("--no-open", action="store_true", help="do not open the browser")
    parser.add_argument(
        "--text", action="store_true", help="plain lines instead of a screen, for a log"
    )
    add_facts(parser)
    add_rules(parser)
    add_settings(parser)


def _audition(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a MIDI file, or a folder of a beat's parts")
    parser.add_argument("--bars", metavar="A-B", help="only these bars")
    parser.add_argument("--mended", action="store_true", help="as it sounds once mended")
    parser.add_argument("--by-ear", action="store_true", help="with --mended: by-ear fixes too")
    parser.add_argument(
        "--octaves-up", type=int, choices=(0, 1, 2), default=0, help="the bass so much higher (0)"
    )
    parser.add_argument("--solo", action="store_true", help="the bass alone")
    parser.add_argument(
        "--roots", action="store_true", help="the heard roots, two octaves up, for the bass"
    )
    parser.add_argument(
        "--small-speakers", action="store_true", help="add harmonics that small speakers carry"
    )
    parser.add_argument(
        "--output",
        metavar="FILE",
        help="where to write (NAME.audition.wav); - for standard output",
    )
    add_facts(parser)
    add_settings(parser)


# What each command does, and its options, in the order in which --help lists them.
COMMANDS: dict[str, tuple[str, Callable[[argparse.ArgumentParser], None]]] = {
    "check": ("check files and folders, print findings", _check),
    "chart": ("print what was heard in a file", _chart),
    "mend": ("write a corrected copy of a file", _mend),
    "explain": ("print a rule's page, or apply it to a file", _explain),
    "rules": ("list the rules", _catalogue),
    "sound": ("measure pitch and decay of a bass one-shot", _sound),
    "audition": ("write a WAV to hear by", _audition),
    "waive": ("let a finding stand, with its reason, in the settings file", _waive),
    "merge": ("join the JSON reports of several shards into one", _merge),
    "accept": ("let what stands today stand, so that only what is new fails", _accept),
    "watch": ("follow a folder: a local page that keeps up with your exports", _watch),
}
