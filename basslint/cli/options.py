"""Which words does the command line know?

Only argparse and plain text here, so that `basslint --help` starts at once.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import NoReturn

from basslint import __version__
from basslint.cli import watching
from basslint.errors import UsageError
from basslint.util.text import nearest, whole

CHECK_FORMATS = ("text", "json", "sarif", "junit", "html", "markdown")
PLAIN_FORMATS = ("text", "json")
PAGE_FORMATS = ("text", "json", "html")
MOST_BARS = 1000  # of one loop: ten minutes hold fewer


# argparse's own words on a value that is none of the choices, in Python 3.11 to 3.14
_CHOICE = re.compile(
    r"argument (?P<what>[^:]+): invalid choice: '(?P<given>[^']*)' \(choose from (?P<known>.*)\)"
)


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are basslint's own two plain lines."""

    def error(self, message: str) -> NoReturn:
        choice = _CHOICE.match(message)
        if choice:
            known = re.findall(r"[\w-]+", choice["known"])
            near = nearest(choice["given"].lower(), known)
            what, of = choice["what"], ", ".join(known)
            raise UsageError(
                f"{what}: “{choice['given']}” is none of {of}.",
                f"Did you mean {near}?" if near else f"See `{self.prog} --help`.",
            )
        raise UsageError(f"{message[:1].upper()}{message[1:]}.", f"See `{self.prog} --help`.")


def parse(words: Sequence[str]) -> argparse.Namespace:
    """Read the command line. Raises `UsageError`; ``--help`` and ``--version`` exit as usual."""
    for word in words:
        if word == "--":
            break
        if word.startswith("-") and word.lower().endswith((".mid", ".midi")) and "=" not in word:
            raise UsageError(f"“{word}” is taken for an option.", f"Write ./{word} for the file.")
    parser = build_parser()
    known, unknown = parser.parse_known_args(words)
    if unknown:
        word = unknown[0]
        if not word.startswith("-"):
            raise UsageError(
                f"“{word}” is one word too many.", f"See `basslint {known.command} --help`."
            )
        raise UsageError(
            f"Unknown option {word}.",
            _near(word, known.options) or f"See `basslint {known.command} --help`.",
        )
    return known


def _near(word: str, options: Sequence[str]) -> str:
    near = nearest(word.split("=")[0], options)
    return f"Did you mean {near}?" if near else ""


def build_parser() -> argparse.ArgumentParser:
    """The whole command line as one parser."""
    parser = _Parser(
        prog="basslint",
        description="Checks the bass line of a whole MIDI arrangement before it ships.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"basslint {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(name: str, line: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=line, description=line, allow_abbrev=False)
        made.add_argument("--debug", action="store_true", help="show a traceback on a fault")
        return made

    _check(command("check", "check files and folders, print findings"))
    _chart(command("chart", "print what was heard in a file"))
    _mend(command("mend", "write a corrected copy of a file"))
    explain = command("explain", "print a rule's page, or apply it to a file")
    explain.add_argument("rule", metavar="RULE")
    explain.add_argument("file", metavar="FILE", nargs="?", help="show it on this file's own notes")
    _facts(explain)
    _format(explain, ("text", "html"))
    _output(explain, "write there instead of to the terminal")
    _settings(explain)
    rules = command("rules", "list the rules")
    rules.add_argument("--readings", action="store_true", help="list what a house rule may ask")
    _format(rules, PAGE_FORMATS)
    _output(rules, "write there instead of to the terminal")
    _settings(rules)
    sound = command("sound", "measure pitch and decay of a bass one-shot")
    sound.add_argument("file", metavar="FILE", help="WAV, FLAC, AIFF or OGG")
    _format(sound, PLAIN_FORMATS)
    _audition(command("audition", "write a WAV to hear by"))
    waive = command("waive", "let a finding stand, with its reason, in the settings file")
    waive.add_argument("file", metavar="FILE")
    waive.add_argument("rule", metavar="RULE")
    waive.add_argument("--bar", type=_bar, metavar="N", help="only the finding in this bar")
    merge = command("merge", "join the JSON reports of several shards into one")
    merge.add_argument("reports", metavar="REPORT.json", nargs="+")
    _output(merge)
    _gate(merge)
    accept = command("accept", "let all that stands today stand; only new findings count then")
    accept.add_argument("paths", metavar="PATH", nargs="+")
    accept.add_argument("--jobs", type=_count, metavar="N", help="worker processes (automatic)")
    _watch(command("watch", "follow a folder: a local page that keeps up with your exports"))
    for made in (waive, accept):
        made.add_argument("--reason", required=True, metavar="TEXT", help="why it may stand")
        made.add_argument("--until", metavar="DATE", help="last day, like 2027-01-31")
        _facts(made)
        _settings(made)
    for made in commands.choices.values():
        options = [o for a in made._actions for o in a.option_strings]
        made.set_defaults(options=options)
    return parser


def _check(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("paths", metavar="PATH", nargs="+", help="MIDI files, or folders of them")
    _facts(parser)
    _format(parser, CHECK_FORMATS)
    _output(parser)
    _rules(parser)
    _gate(parser)
    parser.add_argument(
        "--strict",
        action="store_true",
        help="what could not be judged for want of a fact fails the run",
    )
    _settings(parser)
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
    many.add_argument("--jobs", type=_count, metavar="N", help="worker processes (automatic)")
    many.add_argument("--shard", metavar="K/N", help="only the K-th of every N files, like 2/5")
    many.add_argument("--no-cache", action="store_true", help="check every file anew")


def _count(text: str) -> int:
    count = whole(text)
    if not count:
        raise argparse.ArgumentTypeError(f"“{text}” is no number of processes")
    return count


def _bars(text: str) -> int:
    bars = whole(text, MOST_BARS)
    if not bars:
        raise argparse.ArgumentTypeError(f"“{text}” is no length in bars")
    return bars


def _bar(text: str) -> int:
    bar = whole(text)
    if not bar:
        raise argparse.ArgumentTypeError(f"“{text}” is no bar")
    return bar


def _gate(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--gate",
        choices=("error", "warning", "note"),
        help="the lowest level that fails the run (error)",
    )


def _chart(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a MIDI file, or a loop: WAV, FLAC, AIFF, OGG")
    _facts(parser)
    _format(parser, PLAIN_FORMATS)
    _output(parser)
    _settings(parser)
    loop = parser.add_argument_group("a loop of sound")
    loop.add_argument("--bpm", type=float, metavar="N", help="its tempo, quarters per minute")
    loop.add_argument("--bars", type=_bars, metavar="N", help="how many bars it is long")
    loop.add_argument("--meter", metavar="N/D", help="its meter (4/4)")
    loop.add_argument(
        "--begins", metavar="TIME", help='where its first bar begins: 35ms, or "-1 beat" of pickup'
    )
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
    parser.add_argument("file", metavar="FILE")
    _facts(parser)
    _format(parser, PLAIN_FORMATS)
    _rules(parser)
    _settings(parser)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--output", metavar="FILE", help="where to write (NAME.mended.mid)")
    where.add_argument("--in-place", action="store_true", help="overwrite the file itself")
    where.add_argument("--dry-run", action="store_true", help="list the edits, write nothing")
    parser.add_argument(
        "--by-ear", action="store_true", help="apply fixes that may change what was meant"
    )


def _watch(parser: argparse.ArgumentParser) -> None:
    watching.words(parser)
    _facts(parser)
    _rules(parser)
    _settings(parser)


def _audition(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE")
    parser.add_argument("--bars", metavar="A-B", help="only these bars")
    parser.add_argument("--mended", action="store_true", help="as it sounds once mended")
    parser.add_argument("--by-ear", action="store_true", help="with --mended: by-ear fixes too")
    parser.add_argument("--octaves-up", type=int, choices=(0, 1, 2), default=0)
    parser.add_argument("--solo", action="store_true", help="the bass alone")
    parser.add_argument(
        "--roots", action="store_true", help="the heard roots, two octaves up, for the bass"
    )
    parser.add_argument(
        "--small-speakers", action="store_true", help="add harmonics that small speakers carry"
    )
    parser.add_argument("--output", metavar="FILE", help="where to write (NAME.audition.wav)")
    _facts(parser)
    _settings(parser)


def bar_range(text: str) -> tuple[int, int]:
    """Read ``5-8`` or ``5``. Raises `UsageError`."""
    first, _, last = text.partition("-")
    bars = whole(first), whole(last or first)
    if bars[0] is None or bars[1] is None:
        raise UsageError(f"--bars: “{text}” is no range of bars.", "Write 5-8.")
    return bars[0], bars[1]


def _facts(parser: argparse.ArgumentParser) -> None:
    facts = parser.add_argument_group("facts that the file cannot tell")
    facts.add_argument("--bass", action="append", default=[], metavar="PART", help="NAME or #K")
    facts.add_argument("--harmony", action="append", default=[], metavar="PART", help="NAME or #K")
    facts.add_argument("--key", metavar="KEY", help='"F# minor"')
    facts.add_argument(
        "--chords",
        metavar="CHORDS",
        help='"Dm Bb*2 C": the harmony, one chord a bar, over and over; roots alone will do',
    )
    facts.add_argument(
        "--loop", action="append", metavar="FILE", help="a sample that plays along: its harmony"
    )
    facts.add_argument("--decay", metavar="TIME", help="600ms: time to fall by 60 dB")
    facts.add_argument("--sound", metavar="FILE", help="the bass one-shot, to measure its decay")
    facts.add_argument(
        "--root-key",
        metavar="NOTE",
        help="F#1: the key at which the sampler plays the one-shot at its own pitch",
    )
    facts.add_argument("--bend-range", type=float, metavar="N", help="semitones of a full bend")
    facts.add_argument("--glide-time", metavar="TIME", help="100ms: how long an overlap glides")


def _format(parser: argparse.ArgumentParser, formats: Sequence[str]) -> None:
    parser.add_argument("--format", choices=formats, default="text")


def _output(
    parser: argparse.ArgumentParser,
    help: str = "write there instead of to the terminal; with --format html also FOLDER/",
) -> None:
    parser.add_argument("--output", metavar="FILE", help=help)


def _rules(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--only", action="append", default=[], metavar="RULE", help="only this rule or family"
    )
    parser.add_argument(
        "--without", action="append", default=[], metavar="RULE", help="all but this rule or family"
    )


def _settings(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--settings", metavar="FILE", help="use this settings file")
