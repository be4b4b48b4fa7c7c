"""What did the shipped pages say when they were last read? Kept beside the bytecode of Python.

Pages are to the book what source is to bytecode: they change as seldom, and take longer to read
than a song takes to be heard. So their rules lie where Python would lay the bytecode of a module
in their folder, by the same switches (``PYTHONPYCACHEPREFIX``, ``PYTHONDONTWRITEBYTECODE``), and
are as much to be trusted: who can write there, can write this program. What is damaged or was made
of other pages, by other code or another Python, is read anew.
"""

from __future__ import annotations

import contextlib
import marshal
import os
import sys
from importlib.util import cache_from_source, source_hash
from pathlib import Path
from typing import Any

from basslint.rulebook.model import Case, Cases, Condition, Lesson, Parameter, Rule
from basslint.rulebook.pages import BUILT_IN, Page
from basslint.util.files import read_at_most
from basslint.util.records import fields_of, names_of

_NAME = "pages.py"  # what bytecode of all pages would be the bytecode of
_MADE_BY = ("fixes", "readings", "rulebook", "util")  # packages whose code says what a page means
_MOST_BYTES = 8 * 1024**2  # the pages have a thirtieth of that
_SEAL_BYTES = 8


def kept(pages: tuple[Page, ...]) -> tuple[Rule, ...] | None:
    """The rules of the shipped pages as they were last read; None where they are to be read."""
    path = _path(pages)
    if path is None:
        return None
    try:
        entry = read_at_most(path, _MOST_BYTES)
        body = entry[_SEAL_BYTES:]
        if entry[:_SEAL_BYTES] != source_hash(body):
            return None
        made_of, values = marshal.loads(body)
        return tuple([_from_tuple(rule) for rule in values]) if made_of == _made_of(pages) else None
    except (OSError, ValueError, TypeError, EOFError, IndexError):
        return None


def keep(pages: tuple[Page, ...], book: tuple[Rule, ...]) -> None:
    """Keep what was read on the shipped pages, in one step, where Python keeps bytecode."""
    path = _path(pages)
    if path is None or sys.dont_write_bytecode:
        return
    import tempfile  # as seldom as a page changes

    body = marshal.dumps((_made_of(pages), [_as_tuple(rule) for rule in book]))
    temporary = ""
    with contextlib.suppress(OSError):  # as bytecode: where it may not lie, it is made anew
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            descriptor, temporary = tempfile.mkstemp(dir=path.parent, suffix=".tmp")
            with os.fdopen(descriptor, "wb") as file:
                file.write(source_hash(body) + body)
            Path(temporary).chmod(0o644)  # of a file that all who use the program read
            os.replace(temporary, path)  # noqa: PTH105  # one step, on every system
        except OSError:
            Path(temporary).unlink(missing_ok=True)


def _path(pages: tuple[Page, ...]) -> Path | None:
    """Where the rules of the shipped pages lie; None for pages of a house or of a plug-in."""
    if not pages or any(page.origin != BUILT_IN for page in pages):
        return None
    try:
        return Path(cache_from_source(str(Path(pages[0].folder, _NAME)))).with_suffix(".book")
    except NotImplementedError:  # a Python that keeps no bytecode
        return None


def _made_of(pages: tuple[Page, ...]) -> tuple[Any, ...]:
    """What the rules of pages depend on: what stands there and where, and the code that reads."""
    home = Path(__file__).parents[1]
    code = []
    for package in _MADE_BY:
        with os.scandir(home / package) as files:
            code += [
                (package, file.name, file.stat().st_size, file.stat().st_mtime_ns)
                for file in files
                if file.name.endswith(".py")
            ]
    said = [(p.folder, p.path, p.family, p.origin, p.text.encode()) for p in pages]
    return sys.version_info[:3], source_hash(marshal.dumps((sorted(code), said)))


def _as_tuple(rule: Rule) -> tuple[Any, ...]:
    """A rule as a tuple of its fields, and so the records in it."""
    cases = [
        (tuple(map(tuple, case.conditions)), *list(fields_of(case).values())[1:])
        for case in rule.cases
    ]
    values = fields_of(rule) | {
        "cases": tuple(cases),
        "parameters": tuple([tuple(fields_of(number).values()) for number in rule.parameters]),
        "lesson": rule.lesson and tuple(rule.lesson),
    }
    return tuple(values.values())


def _from_tuple(values: tuple[Any, ...]) -> Rule:
    """What `_as_tuple` has told; plain tuples stand where marshal has no kinds of its own."""
    fields: dict[str, Any] = dict(zip(names_of(Rule), values, strict=True))
    fields["cases"] = Cases(
        [Case(tuple([Condition(*c) for c in all_of]), *said) for all_of, *said in fields["cases"]]
    )
    fields["parameters"] = tuple([Parameter(*number) for number in fields["parameters"]])
    fields["lesson"] = fields["lesson"] and Lesson(*fields["lesson"])
    return Rule(**fields)
