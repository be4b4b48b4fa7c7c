"""Which text does a settings file hold? It is read whole, at one moment, within bounds."""

from __future__ import annotations

from codecs import BOM_UTF8
from pathlib import Path
from typing import Any

from basslint.errors import SettingsError
from basslint.util.files import NotOrdinary, read_at_most
from basslint.util.toml import NotToml, read_toml

MOST_BYTES = 1024 * 1024


def read_source(path: Path) -> bytes:
    """The bytes of a settings file. Raises `SettingsError`."""
    try:
        raw = read_at_most(path, MOST_BYTES + 1)
    except NotOrdinary:
        raise SettingsError(f"{path} is no ordinary file.", "Name a settings file.") from None
    except OSError as error:
        raise unreadable(path, error) from None
    if len(raw) > MOST_BYTES:
        raise SettingsError(f"{path} is longer than {MOST_BYTES:,} bytes.", "Split it.")
    return raw


def table_of(path: Path, raw: bytes) -> dict[str, Any]:
    """What the bytes say; a byte order mark before them says nothing. Raises `SettingsError`."""
    try:
        return read_toml(raw.removeprefix(BOM_UTF8).decode("utf-8"))
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path} is not UTF-8: {error}.", "Save it as UTF-8.") from None
    except NotToml as error:
        raise SettingsError(
            f"{path} is not TOML: {error}.", "Mend that line; a text stands in quotes."
        ) from None


def unreadable(path: Path, error: OSError) -> SettingsError:
    """What is said where the system does not give the file."""
    return SettingsError(f"{path} cannot be read: {error.strerror}.", "Check the path.")
