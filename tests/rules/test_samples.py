"""Each sample holds what the file beside it says: what is heard, and what is found."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path
from typing import Any

import pytest

import basslint
from basslint.theory.names import key_name

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = sorted(p.stem for p in SAMPLES.glob("*.mid"))


def expected(name: str) -> dict[str, Any]:
    return tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


def settings(name: str) -> basslint.Settings:
    seconds = float(expected(name)["decay"].removesuffix("ms")) / 1000
    return basslint.Settings().with_facts(decay_s=seconds)


def test_the_script_writes_these_very_bytes() -> None:
    spec = importlib.util.spec_from_file_location("build", SAMPLES / "build.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    built = module.build()
    assert sorted(built) == sorted(
        p.relative_to(SAMPLES).as_posix() for p in SAMPLES.rglob("*.mid")
    )
    for name, data in built.items():
        assert data == (SAMPLES / name).read_bytes(), name


@pytest.mark.parametrize("name", NAMES)
def test_what_is_found(name: str) -> None:
    (file,) = basslint.check(SAMPLES / f"{name}.mid", settings=settings(name)).files
    assert not file.faults
    found = {(f.rule, f.where.bar) for f in file.findings if f.level != "note"}
    assert found == {(f["rule"], f["bar"]) for f in expected(name)["find"]}
    levels = {(f.rule, f.where.bar): f.level for f in file.findings}
    for wanted in expected(name)["find"]:
        if "level" in wanted:
            assert levels[wanted["rule"], wanted["bar"]] == wanted["level"]


@pytest.mark.parametrize("name", NAMES)
def test_what_is_heard(name: str) -> None:
    heard = basslint.chart(SAMPLES / f"{name}.mid", settings(name))
    says = expected(name)
    parts = heard.song.parts
    if "bass" in says:
        assert [parts[i].name for i in heard.parts.bass] == says["bass"]
    if "harmony" in says:
        assert set(says["harmony"]) <= {parts[i].name for i in heard.parts.harmony}
    assert [
        key_name(int(t), m) for t, m in zip(heard.keys.tonic, heard.keys.mode, strict=True)
    ] == [says["key"]]
    if "pattern" in says:
        assert says["pattern"] in heard.pattern.kind
