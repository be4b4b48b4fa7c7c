"""Do the CI jobs of README.md do what they say? Their shell lines are run as they stand."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from sarif_kit.validate import validation_errors

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
OURS = ("basslint ", "exit ", "code=0")


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """A checkout of beats as a runner has it."""
    beats = tmp_path / "beats"
    beats.mkdir()
    for sample in SAMPLES.glob("*.mid"):
        (beats / sample.name).write_bytes(sample.read_bytes())
    (beats / "basslint.toml").write_text('[facts]\ndecay = "1500ms"\n')
    return tmp_path


def filled(text: str, values: dict[str, str]) -> str:
    """The text with the runner's expressions put in; one that is not known is an error."""
    return re.sub(r"\$\{\{ *([\w.-]+) *\}\}", lambda m: values[m[1]], text)


def play(job: dict, folder: Path, values: dict[str, str]) -> list[int]:
    """Run the steps of a job that are shell lines, as the runner does; their exit codes."""
    env = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "XDG_CACHE_HOME": str(folder / "cache"),
        "GITHUB_STEP_SUMMARY": str(folder / "summary.md"),
        "GITHUB_OUTPUT": str(folder / "outputs"),
    }
    codes = []
    for step in job["steps"]:
        if not step.get("run", "pip").startswith(OURS):
            continue  # actions of the host, and the installation
        outputs = folder / "outputs"
        if outputs.exists():
            told = dict(line.split("=", 1) for line in outputs.read_text().splitlines())
            values = {**values, **{f"steps.beats.outputs.{k}": v for k, v in told.items()}}
        shell = ["bash", "-e", "-o", "pipefail", "-c", filled(step["run"], values)]
        codes.append(subprocess.run(shell, cwd=folder, env=env).returncode)
    return codes


def jobs_of_readme() -> list[dict]:
    """The workflows that README.md shows, in its order."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = [yaml.safe_load(b) for b in re.findall(r"^```yaml\n(.*?)^```", text, re.M | re.S)]
    return [block["jobs"] for block in blocks if "jobs" in block]


ONE, IN_SHARDS = jobs_of_readme()


@pytest.mark.parametrize("kept", ["all", "clean", "cut"])
def test_the_job_reports_in_three_ways_and_fails_as_the_check_does(
    repository: Path, kept: str
) -> None:
    for song in (repository / "beats").glob("*.mid"):
        if kept == "clean" and song.stem != "stairwell":
            song.unlink()
    if kept == "cut":
        (repository / "beats" / "cut.mid").write_bytes(b"MThd")
    codes = play(ONE["beats"], repository, {})
    assert codes == [0, {"all": 1, "clean": 0, "cut": 2}[kept]]
    log = json.loads((repository / "beats.sarif").read_text(encoding="utf-8"))
    assert validation_errors(log) == []
    uris = [a["location"]["uri"] for a in log["runs"][0]["artifacts"]]
    assert "beats/stairwell.mid" in uris
    assert (repository / "summary.md").read_text(encoding="utf-8").startswith("### basslint: ")
    assert (repository / "beats.html").read_text(encoding="utf-8").startswith("<!doctype html>")


def test_the_shards_together_say_what_one_run_says(repository: Path) -> None:
    jobs = IN_SHARDS
    shards = jobs["check"]["strategy"]["matrix"]["shard"]
    for index, shard in enumerate(shards):
        values = {"matrix.shard": shard, "strategy.job-index": str(index)}
        assert play(jobs["check"], repository, values) == [0]
    assert play(jobs["verdict"], repository, {}) == [1]
    whole = subprocess.run(
        [sys.executable, "-m", "basslint", "check", "beats", "--format", "json"],
        cwd=repository,
        capture_output=True,
    )
    assert whole.returncode == 1
    assert (repository / "report.json").read_bytes() == whole.stdout
