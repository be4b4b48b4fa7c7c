"""Which rule pages are there? Their texts, read within bounds and not yet understood."""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

from basslint.errors import RuleError
from basslint.util.files import read_at_most
from basslint.util.records import record

MAX_PAGE_BYTES = 64 * 1024
MAX_PAGES = 500
BUILT_IN = "built in"  # the origin of the shipped pages


@record(kw_only=True)
class Page:
    """A page below a ``folder``: path and text, the family of its rule, and where it comes from."""

    folder: str
    path: str
    text: str
    family: str
    origin: str


def built_in_folder() -> Path:
    """Where the shipped pages lie: in the wheel, or in the checkout of an editable install."""
    inside = Path(__file__).parents[1] / "rules"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "rules"


def pages_of(house: Iterable[Path] = (), plug_ins: Iterable[str] = ()) -> tuple[Page, ...]:
    """The built-in pages, those of named plug-ins, and those of house folders.

    Raises `RuleError`.
    """
    pages = list(_built_in())
    for name in dict.fromkeys(plug_ins):
        for folder in _plug_in_folders(name):
            pages += pages_in(folder, f"plug-in {name}")
    for folder in dict.fromkeys(house):
        pages += pages_in(folder, "house")
    return tuple(pages)


@cache
def _built_in() -> tuple[Page, ...]:
    """The shipped pages, read once: they stay as they are."""
    return tuple(pages_in(built_in_folder(), BUILT_IN))


def pages_in(folder: Path, origin: str) -> list[Page]:
    """Every ``*.md`` page in and below a folder, in order of path, links left aside.

    A page's family is its folder's name, "house" for pages that lie in ``folder`` itself. Raises
    `RuleError` where there are more than anybody writes.
    """
    found: list[Path] = []
    for top, folders, files in os.walk(folder):  # does not follow links to folders
        folders.sort()
        for name in sorted(files):
            path = Path(top, name)
            if name.endswith(".md") and name != "README.md" and not path.is_symlink():
                found.append(path)
        if len(found) > MAX_PAGES:
            raise RuleError(
                f"{folder} holds more than {MAX_PAGES} pages.",
                "Keep rule pages in a folder of their own.",
            )
    return [
        Page(
            folder=str(folder),
            path=str(path),
            text=_text(path),
            family=path.parent.name if path.parent != folder else "house",
            origin=origin,
        )
        for path in found
    ]


@lru_cache(64)
def mark_of(pages: tuple[Page, ...]) -> str:
    """A hash of all that pages say, and of what is said of them."""
    import hashlib  # as slow to import as many songs to look up

    digest = hashlib.sha256()
    for p in pages:
        text = p.text.encode()
        about = repr((p.folder, p.path, p.family, p.origin, len(text)))  # so none runs into another
        digest.update(about.encode("utf-8", "backslashreplace") + text)
    return digest.hexdigest()


def _text(path: Path) -> str:
    """A page's text, bounded."""
    try:
        raw = read_at_most(path, MAX_PAGE_BYTES + 1)
        text = raw.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RuleError(f"{path} cannot be read: {error}.", "A page is UTF-8 text.") from None
    if len(raw) > MAX_PAGE_BYTES:
        raise RuleError(f"{path} is longer than {MAX_PAGE_BYTES:,} bytes.", "Split the page.")
    return text


_plugged: set[str] = set()


def any_plugged() -> bool:
    """Whether a plug-in was loaded in this process: pages may then name what it has brought."""
    return bool(_plugged)


def _plug_in_folders(name: str) -> list[Path]:
    """Folders that a plug-in package offers; its code is imported here, and only when named."""
    from importlib.metadata import entry_points

    found = [e for e in entry_points(group="basslint.rules") if e.name == name]
    if not found:
        raise RuleError(
            f"The settings name a plug-in “{name}”, which is not installed.",
            "Install the package, or take the name out of `plug_ins`.",
        )
    _plugged.add(name)
    return [Path(str(e.load()())) for e in found]
