"""A run over many songs: workers, faults, order, shards, merging."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from xml.etree import ElementTree

import pytest
from jsonschema import Draft202012Validator
from sarif_kit.validate import validation_errors

import basslint.batch.pool
from basslint.batch.bounds import in_time
from basslint.batch.discovery import find_songs, shard_of
from basslint.batch.job import Job
from basslint.batch.run import Result, run
from basslint.checking import one_file
from basslint.cli.main import main
from basslint.cli.options import CHECK_FORMATS
from basslint.report.formats import format_named
from basslint.report.formats.json_values import schema
from basslint.report.section import Sheet
from basslint.settings.run_options import RunOptions

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.mid"))


@pytest.fixture
def beats(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of songs, and a cache of its own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = tmp_path / "beats"
    for n, sample in enumerate(SAMPLES):
        home = folder / f"pack {n % 3}"
        home.mkdir(parents=True, exist_ok=True)
        (home / sample.name).write_bytes(sample.read_bytes())
    return folder


def job_for(folder: Path, name: str = "json") -> Job:
    return Job(options=RunOptions(), format=name, sheet=Sheet())


def written(result: Result, name: str = "json") -> str:
    return "".join(format_named(name).assemble(result.sections, result.run))


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_the_report_is_the_same_however_many_work_on_it(name: str, beats: Path) -> None:
    songs = find_songs([beats])
    job = job_for(beats, name)
    told = {written(run(job, songs, jobs), name) for jobs in (1, 2, 5)}
    assert len(told) == 1


def misbehave(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the check of some songs crash its process, never end, or raise."""
    real = one_file.read_bytes

    def read_bytes(path: Path, settings: object) -> bytes:
        if path.stem == "ferry-queue":
            os._exit(11)
        while path.stem == "glass-lift":
            time.sleep(0.01)
        if path.stem == "night-bus":
            raise RuntimeError("seven")
        return real(path, settings)  # type: ignore[arg-type]

    monkeypatch.setattr(one_file, "read_bytes", read_bytes)


def test_a_crash_a_hang_and_an_error_are_faults_and_stop_no_other_song(
    beats: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = beats / "alone"  # the only one that has little time: others may wait for a busy machine
    alone.mkdir()
    endless = next(p for p in find_songs([beats]) if p.stem == "glass-lift")
    endless.rename(alone / endless.name)
    songs = find_songs([beats])
    whole = {s.path: s for s in run(job_for(beats), songs, 1).sections}
    misbehave(monkeypatch)
    (alone / "basslint.toml").write_text("[limits]\nmax_seconds = 1\n")
    result = run(job_for(beats), songs, 2)
    assert [s.path for s in result.sections] == [str(p) for p in songs]
    faults = {Path(s.path).stem: s.faults[0] for s in result.sections if s.faults}
    assert "its process died" in faults["ferry-queue"]
    assert "RuntimeError: seven" in faults["night-bus"]
    assert len(faults) == 2
    given_up = [s for s in result.sections if s.problem]
    assert [(Path(s.path).stem, s.problem and s.problem.verdict) for s in given_up] == [
        ("glass-lift", "was given up")
    ]
    for section in result.sections:
        assert section.faults or section.problem or section == whole[section.path]


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_a_song_without_an_answer_is_in_every_format(
    name: str, beats: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    misbehave(monkeypatch)
    song = next(p for p in find_songs([beats]) if p.stem == "night-bus")
    assert main(["check", str(song), "--format", name]) == 3
    out, err = capfd.readouterr()
    assert "gave no answer" in out and err == ""
    if name == "json":
        Draft202012Validator(schema("report")).validate(json.loads(out))
    elif name == "sarif":
        assert validation_errors(json.loads(out)) == []
    elif name == "junit":
        assert ElementTree.fromstring(out).get("errors") == "1"


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_a_song_that_takes_too_long_is_no_fault_and_is_checked_again_next_time(
    name: str, beats: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    song = next(p for p in find_songs([beats]) if p.stem == "glass-lift")
    with monkeypatch.context() as slow:
        misbehave(slow)
        slow.setattr(basslint.batch.pool, "in_time", lambda _: in_time(0.05))
        assert main(["check", str(song), "--format", name]) == 2
    out, err = capfd.readouterr()
    assert "longer than 0.05 s (limit `max_seconds`)" in out.replace("\\", "") and err == ""
    if name == "json":
        told = json.loads(out)
        Draft202012Validator(schema("report")).validate(told)
        assert told["files"][0]["problem"]["kind"] == "given-up"
        assert "faults" not in told["files"][0] or not told["files"][0]["faults"]
    elif name == "sarif":
        assert validation_errors(json.loads(out)) == []
    assert main(["check", str(song), "--format", name]) in (0, 1)


def test_a_fault_in_the_settings_stops_the_run_before_anything_is_checked(
    beats: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    (beats / "pack 2" / "basslint.toml").write_text("[rules]\noff-rot = true\n")
    misbehave(monkeypatch)
    assert main(["check", str(beats)]) == 2
    assert "Did you mean off-root?" in capfd.readouterr().err


def test_shards_are_the_whole_each_song_once() -> None:
    songs = [Path(f"{n}.mid") for n in range(12)]
    shards = [shard_of(songs, f"{k}/5") for k in range(1, 6)]
    assert sorted(s for shard in shards for s in shard) == sorted(songs)
    assert max(map(len, shards)) - min(map(len, shards)) <= 1
    assert shard_of(songs[:2], "5/5") == []


def test_merged_shards_are_the_report_of_the_whole(
    beats: Path, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    (beats / "pack 1" / "cut.mid").write_bytes(b"MThd")
    (beats / "basslint.toml").write_text(
        'together = ["nix/*.mid"]\n[[song]]\nfiles = ["drafts/*.mid"]\ngate = "warning"\n'
        '[[song]]\nfiles = ["pack 2/*.mid"]\ngate = "warning"\n'
    )
    parts = []
    for k in (3, 1, 2):
        parts.append(str(tmp_path / f"part-{k}.json"))
        words = ["check", str(beats), "--format", "json", "--shard", f"{k}/3"]
        main([*words, "--output", parts[-1]])
    whole = main(["check", str(beats), "--format", "json"])
    told = capfdbinary.readouterr().out
    assert main(["merge", *parts]) == whole == 2
    assert capfdbinary.readouterr().out == told
    remarks = json.loads(told)["remarks"]
    assert len(remarks) == 2 and "drafts/*.mid names no song" in remarks[0]


def test_a_shard_that_is_missing_is_told_and_is_no_success(
    beats: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Its job may have failed, and left no report."""
    parts = [str(tmp_path / f"part-{k}.json") for k in (1, 2, 3)]
    for k, part in enumerate(parts, 1):
        words = ["check", str(beats / "pack 0"), "--format", "json", "--only", "no-tempo"]
        assert main([*words, "--shard", f"{k}/3", "--output", part]) == 0
    capfd.readouterr()
    assert main(["merge", *parts]) == 0
    assert capfd.readouterr().err == ""
    assert main(["merge", parts[0], parts[2]]) == 2
    out, err = capfd.readouterr()
    assert "Shard 2/3 is missing" in err and len(err.splitlines()) == 2
    assert any("Shard 2/3 is missing" in remark for remark in json.loads(out)["remarks"])
    main([*words, "--shard", "2/2", "--output", parts[1]])
    assert main(["merge", parts[1], parts[0]]) == 2
    assert "shards of two runs" in capfd.readouterr().err


@pytest.mark.parametrize(
    ("levels", "faults", "status", "gate", "code"),
    [
        ([], [], "checked", "note", 0),
        (["note"], [], "checked", "warning", 0),
        (["warning"], [], "checked", "error", 0),
        (["warning"], [], "checked", "warning", 1),
        (["error"], [], "checked", "error", 1),
        (["error"], [], "unreadable", "error", 2),
        (["error"], ["off-root failed"], "unreadable", "error", 3),
    ],
)
def test_the_exit_code_of_a_merger_follows_from_all_it_joins(
    levels: list[str],
    faults: list[str],
    status: str,
    gate: str,
    code: int,
    tmp_path: Path,
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    findings = [{"level": level, "waived": None} for level in levels]
    findings.append({"level": "error", "waived": {"reason": "meant"}})
    songs = [
        {"path": "a.mid", "status": status, "faults": [], "findings": findings},
        {"path": "b.mid", "status": "checked", "faults": faults, "findings": []},
    ]
    parts = []
    for n, song in enumerate(songs):
        parts.append(tmp_path / f"{n}.json")
        parts[-1].write_text(json.dumps({"schema": "basslint-report/1", "files": [song]}))
    assert main(["merge", *map(str, parts), "--gate", gate]) == code
    summary = json.loads(capfdbinary.readouterr().out)["summary"]
    assert summary["files"] == 2 and summary["waived"] == 1
    assert sum(summary[level] for level in ("error", "warning", "note")) == len(levels)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        "\xff",
        "[" * 200_000,
        '{"schema": "basslint-report/2", "files": []}',
        '{"schema": "basslint-report/1"}',
        '{"schema": "basslint-report/1", "files": [1]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a"}]}',
        '{"schema": "basslint-report/1", "files": {}}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked"}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": {}}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [1]}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "lost", '
        '"findings": []}]}',
        '{"schema": "basslint-report/1", "files": [{"path": 1, "status": "checked", '
        '"findings": []}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [{"level": "note"}]}]}',
        '{"schema": "basslint-report/1", "files": [], "remarks": [1]}',
        '{"schema": "basslint-report/1", "files": [], "shard": 3}',
        '{"schema": "basslint-report/1", "files": [], "shard": "3/2"}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [{"level": "loud", "waived": null}]}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [], "chart": {"ticks": 1e400}}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [], "chart": {"ticks": NaN}}]}',
        '{"schema": "basslint-report/1", "files": [{"path": "a", "status": "checked", '
        '"findings": [], "faults": [{}]}]}',
    ],
)
def test_what_is_no_report_is_not_merged(
    text: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    part = tmp_path / "part.json"
    part.write_text(text, encoding="latin-1")
    assert main(["merge", str(part)]) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 2 and "no report of" in err


def test_a_shard_given_twice_is_refused(
    beats: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    part = str(tmp_path / "part.json")
    main(["check", str(beats), "--format", "json", "--output", part])
    assert main(["merge", part, part]) == 2
    assert "each shard once" in capfd.readouterr().err


def test_a_folder_that_cannot_be_looked_into_and_a_link_to_nothing_are_told(
    beats: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Left out in silence, they made a run green at whose songs nobody had looked."""
    closed, scandir = beats / "pack 1", os.scandir

    def refusing(path: str | Path = ".") -> object:
        if Path(path) == closed:
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    link = beats / "pack 0" / "not-fetched.mid"
    try:
        link.symlink_to("nowhere.mid")
    except OSError:  # a system on which not everybody may
        pytest.skip("no symbolic links here")
    monkeypatch.setattr(os, "scandir", refusing)
    monkeypatch.setattr(os, "listdir", lambda path=".": [e.name for e in refusing(path)])  # type: ignore[attr-defined]
    assert main(["check", str(beats), "--no-cache", "--jobs", "1", "--format", "json"]) == 2
    files = {f["path"]: f["problem"] for f in json.loads(capsys.readouterr().out)["files"]}
    told = {path: problem["message"] for path, problem in files.items() if problem}
    assert set(told) == {str(closed), str(link)}
    assert "cannot be looked into: Permission denied." in told[str(closed)]
    assert "is no file" in told[str(link)]
    assert len(files) > 2  # the others are checked all the same
