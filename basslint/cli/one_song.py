"""What do the commands do that are about one song or one sound? Heavy imports stand inside them."""

from __future__ import annotations

import io
import sys
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from basslint.cli.exit_codes import FINE, OWN_FAULT
from basslint.cli.handed_back import files_of_group, write_group, write_guide, write_loop_guide
from basslint.cli.output import complain, keep_inputs, write, write_bytes
from basslint.cli.shared_options import STANDARD
from basslint.cli.stated import facts_stated, run_options
from basslint.cli.values import bar_range
from basslint.errors import UsageError
from basslint.util.files import SOUND_SUFFIXES, is_sound, read_at_most
from basslint.util.text import harmless

CAUTION = "Start low: a sub bass at high level harms ears and speakers, and small speakers hide it."


def chart(args: Namespace) -> int:
    """``basslint chart``: print what was heard."""
    from basslint.checking.one_file import chart_of

    path = Path(args.file)
    if path.suffix.lower() in SOUND_SUFFIXES or _sounds(path):
        return _chart_loop(args, path)
    only_loops = [w for w in ("bpm", "bars", "meter", "begins") if getattr(args, w)]
    if only_loops:
        raise UsageError(
            f"--{only_loops[0]} is for loops of sound; {path} is none.",
            "Leave it out: a MIDI file states its own tempo and bars.",
        )
    settings = run_options(args).settings_of(path)
    heard = chart_of(path, settings)
    if args.guide:
        write_guide(args, heard)
    if args.format == "json":
        from basslint.report.formats.json_chart import chart_json

        write(args, [chart_json(heard)])
    else:
        from basslint.report.formats.chart_text import print_chart

        with _stream(args) as stream:
            if path.is_dir():
                stream.write(harmless(f"{files_of_group(path, settings)}\n"))
            print_chart(heard, stream, settings.middle_c)
    return FINE


def _chart_loop(args: Namespace, path: Path) -> int:
    """``basslint chart LOOP.wav``: print what was heard in a loop of sound."""
    from basslint.audio.loop import hear_loop
    from basslint.cli.loops import stated_loop
    from basslint.report.formats.loop_json import loop_json
    from basslint.report.formats.loop_text import print_loop

    of_songs = [option for option in facts_stated(args) if option != "--settings"]
    if of_songs:
        raise UsageError(
            f"{of_songs[0]} is for songs; {path} is a loop of sound.",
            f"Leave it out, or chart the beat with --loop {path}.",
        )
    longest = run_options(args).settings_of(path).limits.max_loop_s
    heard = hear_loop(path, stated_loop(args), longest)
    if args.guide:
        write_loop_guide(args, heard)
    if args.format == "json":
        write(args, [loop_json(heard)])
    else:
        with _stream(args) as stream:
            print_loop(heard, stream)
    return FINE


def _sounds(path: Path) -> bool:
    try:
        return is_sound(read_at_most(path, 12))
    except (OSError, ValueError):  # the reader of songs tells what is wrong with it
        return False


@contextmanager
def _stream(args: Namespace) -> Iterator[TextIO]:
    """Where a text goes: to the terminal as it is drawn, or whole into the file of ``--output``."""
    if not args.output:
        yield sys.stdout
        return
    text = io.StringIO()
    yield text
    write(args, [text.getvalue()])


def sound(args: Namespace) -> int:
    """``basslint sound``: measure a bass one-shot."""
    from basslint.sound.one_shot import measure_sound

    path = Path(args.file)
    heard = measure_sound(path)
    if args.format == "json":
        from basslint.report.formats.sound_json import sound_json

        sys.stdout.write(sound_json(heard))
    else:
        from basslint.report.formats.sound_text import print_sound
        from basslint.settings.discovery import settings_for

        # its lines are pasted into those settings, and read there by their middle C
        print_sound(heard, sys.stdout, settings_for(path).middle_c)
    return FINE


def mend(args: Namespace) -> int:
    """``basslint mend``: write a corrected copy and list every edit."""
    from basslint.checking.book import book_for
    from basslint.checking.mended import mend_file
    from basslint.mending.account import Choice
    from basslint.report.formats.mend_text import print_mended
    from basslint.rulebook.lookup import find_rules
    from basslint.util.files import MENDED, write_atomically

    path, options = Path(args.file), run_options(args)
    piped = args.output == STANDARD  # then the account goes to standard error
    if piped and args.format == "json":
        raise UsageError(
            "--output -: standard output takes the song or its account, not both.",
            "Name a file with --output, or leave --format json out.",
        )
    settings = options.settings_of(path)
    book = book_for(settings)
    only, without = find_rules(options.only, book), find_rules(options.without, book)
    choice = Choice(args.by_ear, frozenset(only), frozenset(without))
    result = mend_file(path, settings, settings.choose(book), choice)
    if path.is_dir():
        return write_group(args, path, settings, result)
    target: Path | None = Path(args.output) if args.output else path.with_suffix(MENDED)
    if args.in_place:
        target = path
    elif args.dry_run or (not result.applied and not args.output):
        target = None
    replaced = not piped and target is not None and target.exists()
    names = target.stat().st_nlink if replaced and target is not None else 1
    if piped:
        write_bytes(result.data, "MIDI")
    elif target is not None:
        if not args.in_place:
            keep_inputs(args, target)
        write_atomically(target, result.data)
    if args.format == "json":
        from basslint.report.formats.mend_json import mend_json

        sys.stdout.write(mend_json(result, target))
    else:
        stream = sys.stderr if piped else sys.stdout
        print_mended(result, target, args.dry_run, stream, settings.middle_c, replaced=replaced)
    if names > 1:  # it takes its name in one step, so the others stay with what was there
        complain(f"{target} has other names (hard links): what they lead to is as it was.")
    return OWN_FAULT if result.after.faults else FINE


def audition(args: Namespace) -> int:
    """``basslint audition``: write a WAV to hear by."""
    from basslint.audition.mix import render, wav
    from basslint.audition.sounds import GUESSED_T60_S, Wish
    from basslint.checking.one_file import chart_of
    from basslint.util.files import write_atomically

    path = Path(args.file)
    own = path.parent / f"{path.stem}.audition.wav"  # `/` has no name: refused below
    target = Path(args.output) if args.output else own
    keep_inputs(args, target)
    settings = run_options(args).settings_of(path)
    heard = written = chart_of(path, settings)
    if args.mended:
        from basslint.checking.book import book_for
        from basslint.checking.mended import hear_mended

        heard = hear_mended(path, settings, settings.choose(book_for(settings)), args.by_ear)
    mended = heard.song.scan.data != written.song.scan.data
    bars = bar_range(args.bars) if args.bars else None
    wish = Wish(bars, args.octaves_up, args.solo, args.small_speakers, args.roots)
    # as loud as the file as written, so that the two can be compared
    data = wav(render(heard, wish, written if args.mended else None))
    if args.output == STANDARD:
        write_bytes(data, "sound")
        sentence, stream = "Wrote the sound to standard output.", sys.stderr
    else:
        verb = "Replaced" if target.exists() else "Wrote"
        write_atomically(target, data)
        sentence, stream = (
            f"{verb} {target}, {'as mended' if mended else 'as written'}.",
            sys.stdout,
        )
    if args.mended and not mended:
        ear = "" if args.by_ear else " Fixes by ear are made with --by-ear."
        print(f"Nothing was mended, so it sounds as written.{ear}", file=stream)
    if args.roots:
        from basslint.audition.guide import guide
        from basslint.report.formats.guide_text import guide_words

        sentence = f"{sentence} {guide_words(heard, guide(heard))}"
    elif heard.facts.decay_s is None:
        guess = f"The decay of the sound is unknown; {GUESSED_T60_S:g} s was taken."
        print(f"{guess} State --decay.", file=stream)
    print(harmless(f"{sentence} {CAUTION}"), file=stream)
    return FINE
