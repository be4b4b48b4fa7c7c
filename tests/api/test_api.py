"""The Python API: what the commands themselves go through."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import basslint
from basslint.checking.book import book_for
from basslint.checking.mended import rechecker
from basslint.checking.one_file import check_bytes
from basslint.cli.main import main
from basslint.fixes.edits import Edit
from basslint.mending.patch import patch
from basslint.report.formats.json_report import report_json
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.util.records import replace

SAMPLES = Path(__file__).parents[2] / "samples"
OFF = SAMPLES / "spilled-tea.mid"


def test_the_command_reports_what_the_api_reports(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    main(["check", str(SAMPLES), "--format", "json"])
    assert capfdbinary.readouterr().out.decode() == report_json(basslint.check(SAMPLES))


@pytest.mark.parametrize("given", [OFF, str(OFF), [OFF], (str(OFF), SAMPLES / "spilled-tea.mid")])
def test_one_path_or_several(given: object) -> None:
    report = basslint.check(given)  # type: ignore[arg-type]
    assert [f.path for f in report.files] == [str(OFF)]  # each song once
    assert report.count("error") >= 1


def test_stated_settings_hold_for_all_and_count_as_the_command_s_facts() -> None:
    def rules(settings: basslint.Settings | None) -> set[str]:
        return {f.rule for f in basslint.check(OFF, settings).files[0].findings}

    assert "slide-after-decay" not in rules(None)
    assert "slide-after-decay" in rules(basslint.Settings().with_facts(decay_s=1.5))


def test_a_damaged_song_is_no_exception_and_a_missing_one_is(tmp_path: Path) -> None:
    cut = tmp_path / "cut.mid"
    cut.write_bytes(OFF.read_bytes()[:300])
    file = basslint.check(cut).files[0]
    assert file.problem is not None and file.chart is None
    with pytest.raises(basslint.BasslintError, match="does not exist"):
        basslint.check(tmp_path / "none.mid")
    with pytest.raises(basslint.BasslintError):
        basslint.chart(cut)
    with pytest.raises(basslint.BasslintError):
        basslint.mend(cut)


def test_chart_and_mend_answer_in_memory(tmp_path: Path) -> None:
    song = tmp_path / "tea.mid"
    song.write_bytes(OFF.read_bytes())
    assert basslint.chart(song).parts.bass
    mended = basslint.mend(song)
    assert mended.applied and mended.data != song.read_bytes()
    assert list(tmp_path.iterdir()) == [song]


def moved(data: bytes, part: str) -> bytes:
    """The song with the first note of a part a semitone higher."""
    song = build(scan(data))
    row = next(i for i, p in enumerate(song.parts) if p.name == part)
    at, notes = int(np.flatnonzero(song.notes.part == row)[0]), song.notes
    start, end, pitch = int(notes.start[at]), int(notes.end[at]), int(notes.pitch[at])
    track, channel = song.parts[row].track, song.parts[row].channel
    return patch(
        data,
        song,
        [
            Edit(
                do="pitch",
                track=track,
                channel=channel,
                tick=start,
                end_tick=end,
                before=pitch,
                after=pitch + 1,
            )
        ],
    )


@pytest.mark.parametrize(
    ("change", "again"),
    [
        (lambda data: moved(data, "Sub"), False),
        (lambda data: moved(data, "Keys"), True),
        (lambda data: data.replace(b"\xff\x58\x04\x04\x02", b"\xff\x58\x04\x03\x02"), True),
    ],
    ids=["bass", "harmony", "meter"],
)
def test_what_mending_asks_again_is_answered_as_if_it_were_new(
    change: Callable[[bytes], bytes], again: bool
) -> None:
    """Roots are heard again only where the harmony or the bars have changed."""
    settings = basslint.Settings()
    rules = settings.choose(book_for(settings))
    recheck = rechecker(OFF, settings, rules)
    first = recheck(OFF.read_bytes())
    data = change(OFF.read_bytes())
    assert data != OFF.read_bytes()
    told, fresh = recheck(data), check_bytes(data, str(OFF), settings, rules)
    assert told.chart and fresh.chart and first.chart
    assert told.findings == fresh.findings and told.unjudged == fresh.unjudged
    for column in ("start", "end", "root", "quality", "certainty"):
        assert np.array_equal(getattr(told.chart.roots, column), getattr(fresh.chart.roots, column))
    assert (told.chart.roots is not first.chart.roots) == again


def test_what_is_asked_without_fixes_is_what_stands_in_full() -> None:
    """The same findings, without what takes long to tell: each copy is asked so as it is mended."""
    settings = basslint.Settings()
    rules = settings.choose(book_for(settings))
    recheck = rechecker(OFF, settings, rules)
    brief = recheck(OFF.read_bytes(), False)
    full = recheck(OFF.read_bytes())
    assert any(f.fix for f in full.findings) and any(f.evidence for f in full.findings)
    joined = {rule.name for rule in rules if rule.per_part is not None}
    bare = [replace(f, fix=f.fix if f.rule in joined else None, evidence=()) for f in full.findings]
    assert list(brief.findings) == bare
    assert full.chart is brief.chart  # heard once


def test_every_public_name_is_there_and_documented() -> None:
    for name in basslint.__all__:
        assert getattr(basslint, name).__doc__
    with pytest.raises(AttributeError):
        basslint.nothing  # noqa: B018  # asking is the test


def test_callers_are_told_the_types(tmp_path: Path) -> None:
    """mypy --strict on a caller's script: py.typed is there, and the results have types."""
    script = tmp_path / "caller.py"
    script.write_text(
        "import basslint\n"
        "report: basslint.Report = basslint.check('a.mid', basslint.Settings())\n"
        "messages: list[str] = [f.message for file in report.files for f in file.findings]\n"
        "wrong: int = report.files[0].path\n"
    )
    command = [sys.executable, "-m", "mypy", "--strict", "--no-incremental", str(script)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path)
    errors = [line for line in done.stdout.splitlines() if "caller.py" in line]
    assert len(errors) == 1 and "caller.py:4" in errors[0], done.stdout


def test_importing_it_loads_no_heavy_library() -> None:
    code = (
        "import sys, basslint, basslint.cli.main\n"
        "heavy = {'numpy', 'rich', 'mido', 'pretty_midi', 'jinja2', 'soundfile', 'tomlkit'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)\n"
        f"basslint.cli.main.main(['check', '--no-cache', {str(OFF)!r}])\n"
        "heavy -= {'numpy'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
