"""Does the hook work for real: installed by pre-commit, run by git on a repository of beats?"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
SHIPPED = (".pre-commit-hooks.yaml", "pyproject.toml", "README.md", "LICENSE", "basslint", "rules")

CONFIG = """repos:
  - repo: {repo}
    rev: {rev}
    hooks:
      - id: basslint
"""


@pytest.fixture(scope="module")
def env(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """An environment in which git and pre-commit leave the user's own folders alone."""
    home = tmp_path_factory.mktemp("home")
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("GIT_", "PYTHON", "SKIP"))}
    return {
        **kept,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{kept['PATH']}",
        "PRE_COMMIT_HOME": str(home / "pre-commit"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "GIT_CONFIG_GLOBAL": str(home / "gitconfig"),
        "GIT_AUTHOR_NAME": "A Beat Maker",
        "GIT_AUTHOR_EMAIL": "beats@example.org",
        "GIT_COMMITTER_NAME": "A Beat Maker",
        "GIT_COMMITTER_EMAIL": "beats@example.org",
    }


def git(folder: Path, env: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["git", *words], cwd=folder, env=env, capture_output=True, text=True)


def committed(folder: Path, env: dict[str, str]) -> str:
    """Put all of a folder under version control; returns the commit."""
    git(folder, env, "init", "-q")
    git(folder, env, "add", "-A")
    done = git(folder, env, "commit", "-q", "--no-verify", "-m", "all")
    assert done.returncode == 0, done.stderr
    return git(folder, env, "rev-parse", "HEAD").stdout.strip()


@pytest.fixture(scope="module")
def beats(tmp_path_factory: pytest.TempPathFactory, env: dict[str, str]) -> Path:
    """A repository of beats with the hook installed from what lies in this checkout now."""
    tool = tmp_path_factory.mktemp("tool")
    for name in SHIPPED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tool / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, tool / name)
    rev = committed(tool, env)
    folder = tmp_path_factory.mktemp("beats")
    config = CONFIG.format(repo=tool, rev=rev)
    (folder / ".pre-commit-config.yaml").write_text(config)
    (folder / "basslint.toml").write_text('[facts]\ndecay = "1500ms"\n')
    committed(folder, env)
    install = [sys.executable, "-m", "pre_commit", "install", "--install-hooks"]
    done = subprocess.run(install, cwd=folder, env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def commit(
    beats: Path, env: dict[str, str], name: str, data: bytes
) -> subprocess.CompletedProcess[str]:
    """Try to commit a song."""
    (beats / name).write_bytes(data)
    git(beats, env, "add", name)
    done = git(beats, env, "commit", "-m", name)
    if done.returncode:
        git(beats, env, "rm", "-q", "--cached", name)
    return done


def test_a_clean_song_is_committed(beats: Path, env: dict[str, str]) -> None:
    done = commit(beats, env, "stairwell.MID", (SAMPLES / "stairwell.mid").read_bytes())
    assert done.returncode == 0, done.stdout + done.stderr
    assert "basslint" in done.stderr and "Passed" in done.stderr


def test_a_song_with_an_error_is_refused_with_its_finding(beats: Path, env: dict[str, str]) -> None:
    done = commit(beats, env, "tea.mid", (SAMPLES / "spilled-tea.mid").read_bytes())
    assert done.returncode == 1
    assert "exit code: 1" in done.stderr
    for told in ("tea.mid", "slide-off-scale", "slide-after-decay"):  # the last needs the settings
        assert told in done.stderr


def test_a_damaged_song_is_refused_with_its_reason(beats: Path, env: dict[str, str]) -> None:
    done = commit(beats, env, "cut.midi", (SAMPLES / "spilled-tea.mid").read_bytes()[:300])
    assert done.returncode == 1
    assert "exit code: 2" in done.stderr and "could not be read" in done.stderr


def test_what_is_no_song_is_not_checked(beats: Path, env: dict[str, str]) -> None:
    done = commit(beats, env, "notes.txt", b"no beat")
    assert done.returncode == 0 and "Skipped" in done.stderr
