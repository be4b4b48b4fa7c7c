"""Does the wheel alone do the main job, in an empty environment, far from the checkout?"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that holds the wheel and nothing else; returns its scripts folder."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = folder.glob("basslint-*.whl")
    venv.create(folder / "env", with_pip=True)
    scripts = folder / "env" / "bin"
    subprocess.run(
        [scripts / "python", "-m", "pip", "install", "-q", str(wheel)],
        check=True,
        capture_output=True,
    )
    return scripts


def run(scripts: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHONHOME")}
    return subprocess.run(
        [scripts / "basslint", *words], cwd=folder, env=env, capture_output=True, text=True
    )


def test_a_wheel_is_the_same_bytes_whenever_and_wherever_it_is_built(
    installed: Path, tmp_path: Path
) -> None:
    """Built again from a copy in another folder, whose files are newer."""
    for name in ("basslint", "rules"):
        shutil.copytree(ROOT / name, tmp_path / "copy" / name, copy_function=shutil.copy)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tmp_path / "copy")
    out = tmp_path / "out"
    build = [sys.executable, "-m", "build", "--wheel", "--outdir", str(out)]
    subprocess.run([*build, str(tmp_path / "copy")], check=True, capture_output=True)
    (again,), (before,) = out.glob("*.whl"), installed.parents[1].glob("*.whl")
    assert again.name == before.name and again.read_bytes() == before.read_bytes()


def test_main_job_runs_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "beat.mid").write_bytes((ROOT / "samples" / "spilled-tea.mid").read_bytes())
    done = run(installed, tmp_path, "check", "beat.mid", "--decay", "1500ms", "--format", "json")
    assert done.returncode == 1, done.stderr
    report = json.loads(done.stdout)
    assert "off-root" in {f["rule"] for f in report["files"][0]["findings"]}


def test_rule_pages_and_schemas_are_in_the_wheel(installed: Path, tmp_path: Path) -> None:
    listed = run(installed, tmp_path, "rules", "--format", "json")
    assert listed.returncode == 0, listed.stderr
    here = {p.stem for p in (ROOT / "rules").rglob("*.md")}
    assert {r["name"] for r in json.loads(listed.stdout)["rules"]} == here
    schema = "from importlib.resources import files as f; print(f('basslint') / 'report/schemas')"
    where = subprocess.run(
        [installed / "python", "-c", schema], cwd=tmp_path, capture_output=True, text=True
    )
    folder = Path(where.stdout.strip())
    assert (folder / "report.json").is_file()
    assert (folder / "chart.json").is_file()
