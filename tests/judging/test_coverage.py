"""What a report says of the main job, and when a strict run fails."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from beats import heard, judged

from basslint.batch.merge import merge
from basslint.cli.main import main
from basslint.judging.coverage import Coverage, coverage
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.util.records import replace

SUB = "sub | D1:3.5 .:.5 | A#1:3.5 .:.5 |*4\n"
DRUMS = "tempo 140\nkick | C2:1x4 |*8\n"
KEYS = "keys | D4+F4+A4:4 | A#3+D4+F4:4 |*4\n"
HALF = "keys | D4+F4+A4:4 | A#3+D4+F4:4 | D4+F4+A4:4 | .:4 | .:4 | .:4 | .:4 | .:4 |\n"


@pytest.mark.parametrize(
    ("beat", "words"),
    [
        (DRUMS + KEYS + SUB, "roots from keys (MIDI), 8 of 8 bars"),
        (DRUMS + SUB, "no harmony: roots not judged; state them with --chords or give the loop "
         "with --loop"),
        ("chords Dm Bb\n" + DRUMS + SUB, "roots as stated, 8 of 8 bars"),
        ("chords 5 Dm Bb\n" + DRUMS + KEYS + SUB,
         "roots as stated and from keys (MIDI), 8 of 8 bars"),
        ("chords Dm N.C.*7\n" + DRUMS + SUB, "roots as stated, 1 of 8 bars"),
        ("chords N.C.\n" + DRUMS + SUB, "roots as stated, 0 of 8 bars"),
        (DRUMS + KEYS, ""),
    ],
)  # fmt: skip
def test_the_head_says_what_was_judged(beat: str, words: str) -> None:
    assert coverage(heard(beat)).words == words


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        (("Pad", "Keys", "Pad", "Pad"), "from Pad ×3, Keys (MIDI)"),
        (tuple("ABCDE"), "from A, B, C, D, E (MIDI)"),
        (tuple("ABCDEF"), "from A, B, C, D, 2 more (MIDI)"),
    ],
)
def test_many_parts_of_harmony_are_named_in_short(parts: tuple[str, ...], words: str) -> None:
    assert words in replace(covered(8, 8), parts=parts).words


def covered(bars: int, judged: int) -> Coverage:
    return Coverage(bars=bars, judged=judged, sources=("midi",), parts=("keys",), bass=True)


@pytest.mark.parametrize(
    ("of", "share", "lacks"),
    [
        (covered(8, 8), 0.0, ""),
        (covered(8, 4), 0.5, ""),
        (covered(8, 3), 0.5, "the roots of 5 of 8 bars were not judged, more than 50%"),
        (covered(8, 7), 0.0, "the roots of 1 of 8 bars were not judged, more than 0%"),
        (covered(0, 0), 0.5, "the bass plays nothing"),
        (Coverage(bars=8, judged=0, sources=(), parts=(), bass=True), 1.0, "no harmony is known"),
        (
            Coverage(bars=8, judged=0, sources=(), parts=(), bass=True, loop=True),
            1.0,
            "no harmony is known, so no root was judged; state it with --chords",
        ),
        (
            Coverage(bars=0, judged=0, sources=(), parts=(), bass=False),
            1.0,
            "no bass part was found",
        ),
    ],
)
def test_a_strict_run_fails_where_too_little_was_judged(
    of: Coverage, share: float, lacks: str
) -> None:
    said = of.lacks(share)
    assert said.startswith(lacks) if lacks else said == ""


@pytest.fixture
def song(tmp_path: Path) -> Path:
    path = tmp_path / "beat.mid"
    path.write_bytes(compile_beat(DRUMS + SUB).data)
    return path


@pytest.mark.parametrize(
    ("words", "toml", "code"),
    [
        ((), "", 0),
        (("--strict",), "", 1),
        ((), "strict = true", 1),
        ((), "strict = false", 0),
        ((), '[[song]]\nfiles = "*.mid"\nstrict = true', 1),
        (("--strict", "--chords", "Dm Bb"), "", 0),
        (("--chords", "Dm Bb N.C.*6"), "strict = { most_unjudged = 0.5 }", 1),
        (("--chords", "Dm Bb N.C.*6"), "strict = { most_unjudged = 0.8 }", 0),
    ],
)
def test_exit_codes_of_strict_runs(
    song: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], toml: str, code: int
) -> None:
    (song.parent / "basslint.toml").write_text(toml, encoding="utf-8")
    assert main(["check", str(song), "--no-cache", *words]) == code
    told = capsys.readouterr()
    assert ("not judged enough for a strict run" in told.err) == (code == 1)
    assert "0 errors" in told.out


@pytest.mark.parametrize("toml", ["strict = 1", 'strict = "yes"', "strict = { most_unjudged = 2 }"])
def test_strict_is_checked(song: Path, capsys: pytest.CaptureFixture[str], toml: str) -> None:
    (song.parent / "basslint.toml").write_text(toml, encoding="utf-8")
    assert main(["check", str(song)]) == 2
    assert "`strict" in capsys.readouterr().err


def test_nothing_is_off_is_never_said_over_an_unjudged_main_job(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for form in ("text", "markdown", "html"):
        assert main(["check", str(song), "--no-cache", "--format", form]) == 0
        told = capsys.readouterr().out
        assert "nothing is off" not in told
        assert "judged" in told
    assert main(["check", str(song), "--no-cache", "--chords", "Dm Bb"]) == 0
    assert "nothing is off" in capsys.readouterr().out


def test_the_verdict_travels_with_shards(song: Path, tmp_path: Path) -> None:
    report = tmp_path / "part.json"
    words = ["check", str(song), "--strict", "--format", "json", "--output", str(report)]
    assert main(words) == 1
    told = json.loads(report.read_text())["files"][0]["judged"]
    assert told["lacks"].startswith("no harmony is known")
    assert (told["bass_bars"], told["root_bars"], told["root_sources"]) == (8, 0, [])
    assert merge([report]).lacking == 1
    assert main(["merge", str(report)]) == 1


def test_junit_has_a_case_of_it(song: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(song), "--strict", "--no-cache", "--format", "junit"]) == 1
    told = capsys.readouterr().out
    assert 'name="judged enough"' in told and 'failures="1"' in told


def test_under_a_tune_alone_no_rule_says_what_another_could_not_judge() -> None:
    verdict = judged(
        "tempo 140\nkick | C2:1x4 |*16\n"
        "lead | E5:1 D5:.5 C5:1.5 B4:1 | A4:2 C5:1 B4:1 | G4:1.5 A4:.5 B4:1 D5:1 | C5:3 .:1 |*4\n"
        "sub | C2:3.5 .:.5 | E1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*4\n",
        read_book(),
    )
    blind = {
        bar
        for u in verdict.unjudged
        if u.rule == "off-root"
        for bar in range(u.start_bar, u.end_bar)
    }
    assert blind  # of some bars a tune does not say enough
    about_roots = {"off-root", "inverted-root"}
    assert not [f for f in verdict.findings if f.rule in about_roots and f.where.bar in blind]
