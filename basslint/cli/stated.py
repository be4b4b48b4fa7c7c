"""What do the words of the command line state for the whole run?"""

from __future__ import annotations

import datetime
from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.errors import UsageError
from basslint.util.text import shell_word

if TYPE_CHECKING:
    from basslint.batch.accept import Permit
    from basslint.hear.facts import StatedChords
    from basslint.settings.run_options import RunOptions

# options that say what the file cannot, by their names in the parsed words
_FACTS = (
    "settings", "bass", "harmony", "key", "chords", "loop", "decay", "sound", "root_key",
    "bend_range", "glide_time",
)  # fmt: skip


def run_options(args: Namespace) -> RunOptions:
    """The options of a run from the words of a command. Raises `UsageError`.

    Commands that take no facts or narrow no rules state none of them.
    """
    from basslint.hear.facts import MOST_SEMITONES, StatedLoop, parse_key, parse_seconds
    from basslint.settings.run_options import RunOptions

    said = {"bass": (), "harmony": (), "only": (), "without": ()} | vars(args)
    bend, decay, glide = said.get("bend_range"), said.get("decay"), said.get("glide_time")
    if bend is not None and not 0 < bend <= MOST_SEMITONES:
        raise UsageError(
            f"--bend-range: {bend:g} is no range of a bend.",
            f"Write semitones above 0 and at most {MOST_SEMITONES}, like 12.",
        )
    return RunOptions(
        settings_file=Path(args.settings) if args.settings else None,
        bass=tuple(said["bass"]),
        harmony=tuple(said["harmony"]),
        key=parse_key(said["key"]) if said.get("key") else None,
        chords=_chords(said.get("chords")),
        loops=tuple(StatedLoop(file=file) for file in said.get("loop") or ()),
        decay_s=parse_seconds(decay, "--decay") if decay else None,
        glide_time_s=parse_seconds(glide, "--glide-time") if glide else None,
        bend_range=bend,
        sound=said.get("sound"),
        root_key=said.get("root_key"),
        only=tuple(said["only"]),
        without=tuple(said["without"]),
        gate=said.get("gate"),
        strict=bool(said.get("strict")),
    )


def facts_stated(args: Namespace) -> list[str]:
    """The options by which the command line states facts of its songs."""
    given = vars(args)
    return [f"--{name.replace('_', '-')}" for name in _FACTS if given.get(name)]


def facts_as_typed(args: Namespace) -> str:
    """The options by which the command line states facts of its songs, as they would be typed."""
    given = vars(args)
    words = []
    for name in _FACTS:
        values = given.get(name) or ()
        for value in values if isinstance(values, list | tuple) else (values,):
            text = f"{value:g}" if isinstance(value, float) else str(value)
            words.append(f"--{name.replace('_', '-')} {shell_word(text)}")
    return " ".join(words)


def _chords(line: str | None) -> tuple[StatedChords, ...]:
    if line is None:
        return ()
    from basslint.hear.facts import StatedChords
    from basslint.theory.chord_symbols import read_chords

    return (StatedChords(1, read_chords(line, "--chords")),)


def permit(args: Namespace) -> Permit:
    """Why and how long findings may stand. Raises `UsageError`."""
    from basslint.batch.accept import Permit

    reason = args.reason.strip()
    if not reason:
        raise UsageError("--reason is empty.", "Say why it may stand; whoever reviews it will ask.")
    try:
        until = datetime.date.fromisoformat(args.until) if args.until else None
    except ValueError:
        raise UsageError(f"--until: “{args.until}” is no date.", "Write 2027-01-31.") from None
    if until is not None and until < datetime.date.today():
        raise UsageError(
            f"--until: {until} has passed; the waiver would count no more.", "Name a day to come."
        )
    return Permit(reason, until)
