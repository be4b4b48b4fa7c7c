"""Which files does a command write besides its report: a guide of roots, the copies of a group?"""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.cli.exit_codes import FINE, OWN_FAULT
from basslint.cli.output import complain, keep_inputs
from basslint.cli.shared_options import STANDARD
from basslint.errors import UsageError
from basslint.util.text import harmless

if TYPE_CHECKING:
    from basslint.audio.loop import HeardLoop
    from basslint.hear.chart import Chart
    from basslint.mending.account import MendResult
    from basslint.settings.model import Settings

_NAMED = 8  # files of a group that a line names


def write_guide(args: Namespace, heard: Chart) -> None:
    """Hand the roots back as MIDI, and say on standard error which ones were not sure enough."""
    from basslint.audition.guide import USUAL_OCTAVE, guide
    from basslint.report.formats.guide_text import guide_words
    from basslint.util.files import write_atomically

    target = _guide_file(args)
    made = guide(heard, USUAL_OCTAVE if args.octave is None else args.octave)
    write_atomically(target, made.data)
    complain(f"Wrote {target}: {guide_words(heard, made)}")


def _guide_file(args: Namespace) -> Path:
    if args.guide == STANDARD:
        raise UsageError("--guide: standard output takes the chart.", "Name a file for the guide.")
    target = Path(args.guide)
    keep_inputs(args, target)
    return target


def write_loop_guide(args: Namespace, heard: HeardLoop) -> None:
    """Hand the roots of a loop of sound back in the same way."""
    from basslint.audition.guide import USUAL_OCTAVE, loop_guide
    from basslint.report.formats.guide_text import loop_guide_words
    from basslint.util.files import write_atomically

    target = _guide_file(args)
    made = loop_guide(heard, USUAL_OCTAVE if args.octave is None else args.octave)
    write_atomically(target, made.data)
    complain(f"Wrote {target}: {loop_guide_words(heard, made)}")


def files_of_group(folder: Path, settings: Settings) -> str:
    """A sentence on what was read for a folder."""
    from basslint.checking.members import members_of

    names = [path.name for path in members_of(folder, settings)]
    among = ", ".join(names[:_NAMED]) + (", …" if len(names) > _NAMED else "")
    return f"{len(names)} files of {folder} as one arrangement: {among}"


def write_group(args: Namespace, folder: Path, settings: Settings, result: MendResult) -> int:
    """Write a copy beside each file of a group that mending changed, and say which."""
    from basslint.checking.group import read_group
    from basslint.checking.members import members_of
    from basslint.report.formats.mend_text import print_mended
    from basslint.smf.together import parted
    from basslint.util.files import MENDED, write_atomically

    if args.output:
        raise UsageError(
            "--output: a group is mended file by file.",
            "Leave it out: each copy is written beside its file.",
        )
    files = members_of(folder, settings)
    changed = parted(read_group(folder, settings), result.data)
    targets = {i: files[i] if args.in_place else files[i].with_suffix(MENDED) for i in changed}
    if not args.dry_run:
        for index, data in changed.items():
            write_atomically(targets[index], data)
    written = folder if targets and not args.dry_run else None
    if args.format == "json":
        from basslint.report.formats.mend_json import mend_json

        sys.stdout.write(mend_json(result, written))
    else:
        print_mended(result, written, args.dry_run, sys.stdout, settings.middle_c, parted=True)
        verb = "would write" if args.dry_run else "wrote"
        for target in targets.values():
            print(harmless(f"{verb} {target}"))
    return OWN_FAULT if result.after.faults else FINE
