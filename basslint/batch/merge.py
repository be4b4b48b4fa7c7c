"""How do the JSON reports of several shards become one?"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePath
from typing import Any

from basslint.batch.discovery import share_of
from basslint.errors import UsageError
from basslint.report.formats.json_report import SCHEMA, file_text, report_text
from basslint.rulebook.model import LEVELS, Level
from basslint.util.records import record

MOST_BYTES = 1024**3
_MOST_MISSING = 20  # shards that are named

Json = dict[str, Any]


@record(kw_only=True)
class Merged:
    """One report of several: its text, and what its exit code follows from.

    ``missing``: a sentence for each shard whose report was not among them.
    """

    pieces: tuple[str, ...]
    faults: bool
    unreadable: int
    lacking: int
    missing: tuple[str, ...]
    counts: tuple[tuple[Level, int], ...]

    def failing(self, gate: Level) -> int:
        """Unwaived findings at or above the gate."""
        at_gate = LEVELS[: LEVELS.index(gate) + 1]
        return sum(count for level, count in self.counts if level in at_gate)


def merge(reports: Sequence[Path]) -> Merged:
    """Join reports of ``check --format json``: files in order of path, remarks once.

    Raises `UsageError` for a file that is no such report, for a song that stands in two, and for
    shards of two splits.
    """
    files: dict[str, tuple[Json, Path]] = {}
    remarks: dict[str, None] = {}
    shards: dict[int, set[int]] = {}
    for path in reports:
        report = _read(path)
        remarks.update(dict.fromkeys(report["remarks"]))
        if report["shard"]:
            number, of = report["shard"]
            shards.setdefault(of, set()).add(number)
        for file in report["files"]:
            if file["path"] in files:
                raise UsageError(
                    f"{file['path']} stands in {files[file['path']][1]} and in {path}.",
                    "Give the report of each shard once.",
                )
            files[file["path"]] = file, path
    songs = [files[name][0] for name in sorted(files, key=PurePath)]
    summary, missing = _summary(songs), _missing(shards)
    remarks.update(dict.fromkeys(missing))
    return Merged(
        pieces=tuple(report_text(_texts(files), tuple(remarks), summary)),
        faults=any(song.get("faults") for song in songs),
        unreadable=summary["unreadable"],
        lacking=sum(1 for song in songs if song.get("judged") and song["judged"].get("lacks")),
        missing=missing,
        counts=tuple((level, summary[level]) for level in LEVELS),
    )


def _read(path: Path) -> Json:
    what = f"{path} is no report of `basslint check --format json`"
    if path.exists() and not path.is_file():  # a pipe or a device may never end
        raise UsageError(f"{path} is no ordinary file.", "Name a report.")
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise UsageError(f"{path} cannot be read: {error.strerror}.", "Check the path.") from None
    try:
        report = json.loads(raw) if len(raw) <= MOST_BYTES else None
    except (ValueError, RecursionError):
        report = None
    if not isinstance(report, dict) or report.get("schema") != SCHEMA:
        raise UsageError(f"{what}.", f'Its first key must be "schema": "{SCHEMA}".')
    report.setdefault("remarks", [])
    share = report.get("shard")
    report["shard"] = share_of(share) if isinstance(share, str) else None
    if not _holds_together(report) or (share is not None and report["shard"] is None):
        raise UsageError(f"{what}: it is not whole.", "Write it again.")
    return report


def _missing(shards: Mapping[int, set[int]]) -> tuple[str, ...]:
    """What to say of shards that are not there: a job that failed leaves no report behind."""
    if len(shards) > 1:
        splits = " and ".join(f"{min(shards[of])}/{of}" for of in sorted(shards)[:2])
        raise UsageError(
            f"{splits} are shards of two runs.", "Give the reports of one run, split in one way."
        )
    return tuple(
        f"Shard {number}/{of} is missing; nobody says what its songs hold."
        for of, there in shards.items()
        for number in sorted(set(range(1, of + 1)) - there)[:_MOST_MISSING]
    )


def _holds_together(report: Json) -> bool:
    """Whether all that is counted is there; everything else is handed on as it is."""
    files = report.get("files")
    return (
        isinstance(files, list)
        and _are(report["remarks"], str)
        and all(
            isinstance(f, dict)
            and isinstance(f.get("path"), str)
            and f.get("status") in ("checked", "unreadable")
            and _are(f.get("findings"), dict)
            and _are(f.get("faults", []), str)
            and all(x.get("level") in LEVELS and "waived" in x for x in f["findings"])
            for f in files
        )
    )


def _are(values: object, kind: type) -> bool:
    return isinstance(values, list) and all(isinstance(v, kind) for v in values)


def _summary(songs: Sequence[Json]) -> Json:
    found = [finding for song in songs for finding in song["findings"]]
    standing = [f["level"] for f in found if f["waived"] is None]
    return {
        "files": len(songs),
        "unreadable": sum(1 for song in songs if song["status"] == "unreadable"),
        **{level: standing.count(level) for level in LEVELS},
        "waived": len(found) - len(standing),
    }


def _texts(files: Mapping[str, tuple[Json, Path]]) -> list[str]:
    """Each song as text. Raises `UsageError` for a number that JSON has no place for: 1e400."""
    texts = []
    for name in sorted(files, key=PurePath):
        song, path = files[name]
        try:
            texts.append(file_text(song))
        except ValueError:
            raise UsageError(
                f"{path} is no report of `basslint check --format json`: it is not whole.",
                f"{name} holds a number without bounds; write it again.",
            ) from None
    return texts
