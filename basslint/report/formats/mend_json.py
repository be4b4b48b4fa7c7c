"""The account of a mending as JSON ("basslint-mend/1"), edits in the contract's form."""

from __future__ import annotations

from pathlib import Path

from basslint.mending.account import MendResult
from basslint.report.formats.json_report import edit_object, finding_object
from basslint.report.formats.json_values import Json, posix, text


def mend_json(result: MendResult, target: Path | None) -> str:
    """What was mended and what stands. ``written`` is null where nothing was written."""
    account: Json = {
        "schema": "basslint-mend/1",
        "path": posix(result.before.path),
        "written": None if target is None else target.as_posix(),
        "applied": [
            {
                "finding": finding_object(a.finding),
                "title": a.fix.title,
                "kind": a.fix.kind,
                "edits": [edit_object(e) for e in a.fix.edits],
            }
            for a in result.applied
        ],
        "conflicts": [[finding_object(f) for f in c.findings] for c in result.conflicts],
        "left": [{"finding": finding_object(x.finding), "why": x.why} for x in result.left],
        "faults": list(result.faults),
    }
    return text(account)
