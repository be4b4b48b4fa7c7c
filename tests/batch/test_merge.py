"""Reports of several shards as one: which songs, what is counted, what is missing, what is refused.

The reports are written by hand, as small as `basslint merge` takes them.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from basslint.batch.merge import merge
from basslint.errors import UsageError
from basslint.rulebook.model import Level

Song = dict[str, object]


def song(path: str, *levels: str, **more: object) -> Song:
    findings = [{"level": level, "waived": None} for level in levels]
    return {"path": path, "status": "checked", "findings": findings, **more}


def report(folder: Path, name: str, *songs: Song, **more: object) -> Path:
    path = folder / name
    path.write_text(json.dumps({"schema": "basslint-report/1", "files": songs, **more}))
    return path


def test_songs_come_in_order_of_path_and_remarks_once(tmp_path: Path) -> None:
    merged = merge(
        [
            report(tmp_path, "1.json", song("b.mid"), song("a/z.mid"), remarks=["x", "y"]),
            report(tmp_path, "2.json", song("a-b.mid"), song("a.mid"), remarks=["y", "z"]),
        ]
    )
    whole = json.loads("".join(merged.pieces))
    # a folder's songs stand together: "a/z.mid" before "a-b.mid", as the run over all has them
    assert [f["path"] for f in whole["files"]] == ["a/z.mid", "a-b.mid", "a.mid", "b.mid"]
    assert whole["remarks"] == ["x", "y", "z"]
    assert whole["files"][3] == song("b.mid")  # handed on as it is


WAIVED = {"level": "error", "waived": {"reason": "meant"}}


@pytest.mark.parametrize(("gate", "failing"), [("error", 1), ("warning", 3), ("note", 6)])
def test_findings_of_all_shards_are_counted(tmp_path: Path, gate: Level, failing: int) -> None:
    kept = song("b.mid", "note", "warning")
    kept["findings"] = [*kept["findings"], WAIVED]  # type: ignore[misc]
    first = report(tmp_path, "1.json", song("a.mid", "error", "note"), kept)
    broken = song("c.mid", status="unreadable")
    second = report(tmp_path, "2.json", song("d.mid", "note", "warning"), broken)
    merged = merge([first, second])
    assert json.loads("".join(merged.pieces))["summary"] == {
        "files": 4, "unreadable": 1, "error": 1, "warning": 2, "note": 3, "waived": 1,
    }  # fmt: skip
    assert merged.failing(gate) == failing
    assert (merged.unreadable, merged.faults, merged.lacking) == (1, False, 0)


@pytest.mark.parametrize(
    ("songs", "faults", "lacking"),
    [
        ([song("a.mid", faults=["off-root failed"]), song("b.mid")], True, 0),
        ([song("a.mid", faults=[]), song("b.mid")], False, 0),
        ([song("a.mid", judged=None), song("b.mid", judged={"lacks": None})], False, 0),
        ([song("a.mid", judged={"lacks": "no bass"}), song("b.mid", judged={})], False, 1),
    ],
)
def test_faults_and_songs_that_were_not_judged_enough_are_counted(
    tmp_path: Path, songs: list[Song], faults: bool, lacking: int
) -> None:
    merged = merge([report(tmp_path, "1.json", *songs)])
    assert (merged.faults, merged.lacking) == (faults, lacking)


@pytest.mark.parametrize(
    ("shards", "missing"),
    [
        (["1/3", "2/3", "3/3"], []),
        (["3/3", "1/3"], ["2/3"]),
        (["2/4"], ["1/4", "3/4", "4/4"]),
        ([None], []),  # a whole run
        (["1/1", None], []),
        (["30/30"], [f"{n}/30" for n in range(1, 21)]),  # twenty are named
    ],
)
def test_shards_that_left_no_report_are_named(
    tmp_path: Path, shards: list[str | None], missing: list[str]
) -> None:
    reports = [
        report(tmp_path, f"{n}.json", song(f"{n}.mid"), **({"shard": s} if s else {}))
        for n, s in enumerate(shards)
    ]
    merged = merge(reports)
    told = [f"Shard {s} is missing; nobody says what its songs hold." for s in missing]
    assert list(merged.missing) == told
    assert json.loads("".join(merged.pieces))["remarks"] == told


@pytest.mark.parametrize(
    ("shards", "songs", "told"),
    [
        (("2/5", "1/5", "2/3"), "abc", "2/3 and 1/5 are shards of two runs."),
        (("1/2", "2/3", "1/5"), "abc", "1/2 and 2/3 are shards of two runs."),
        (("1/3", "1/3", "2/3"), "aab", "a stands in {0} and in {1}."),
    ],
)
def test_reports_that_do_not_belong_together_are_refused(
    tmp_path: Path, shards: tuple[str, ...], songs: str, told: str
) -> None:
    reports = [
        report(tmp_path, f"{n}.json", song(name), shard=shard)
        for n, (name, shard) in enumerate(zip(songs, shards, strict=True))
    ]
    with pytest.raises(UsageError) as caught:
        merge(reports)
    assert caught.value.message == told.format(*reports) and caught.value.advice


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "1.json")
    with pytest.raises(UsageError, match="no ordinary file"):
        merge([tmp_path / "1.json"])
    with pytest.raises(UsageError, match="cannot be read: No such file"):
        merge([tmp_path / "gone.json"])


def test_a_report_without_bounds_is_refused_with_the_song(tmp_path: Path) -> None:
    path = tmp_path / "1.json"
    whole = json.dumps({"schema": "basslint-report/1", "files": [song("a.mid", chart=1)]})
    path.write_text(whole.replace('"chart": 1', '"chart": 1e400'))
    with pytest.raises(UsageError, match=r"not whole") as caught:
        merge([path])
    assert caught.value.advice == "a.mid holds a number without bounds; write it again."
