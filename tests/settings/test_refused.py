"""What a settings file may not say, and how its mistakes are told: where, what, what instead."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from settled import settled

from basslint.cli.main import main
from basslint.errors import SettingsError
from basslint.rulebook.loader import read_book
from basslint.settings.model import MOST_UNJUDGED

BOOK = read_book()
SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("gaet = 1", "unknown key `gaet`.*\n.*`gate`"),
        ("bass = '808'", r"unknown key `bass`.*\n.*below a line that says \[facts\]"),
        ("[facts]\nbass = 'Sub'\ngate = 'note'", r"`facts.gate`.*\n.*above the first \[table\]"),
        ("[[song]]\nfiles = 'a.mid'\ndecay = '1s'", "`song.decay`.*\n.*facts = { decay = … }"),
        ("[[waive]]\nrule = 'x'\nsong = 'a.mid'", "waiver 1: `reason` is missing"),
        ("[[waive]]\nrule = 'x'\nsong = 'a.mid'\nreason = 3", "`reason` must be a text"),
        ("[facts]\nkey = F# minor", "is not TOML.*\n.*in quotes"),
        ("[facts]\ndeacy = '1s'", "unknown key `facts.deacy`.*\n.*`facts.decay`"),
        ("[limits]\nmax_bar = 1", "unknown key `limits.max_bar`.*\n.*`limits.max_bars`"),
        ("[[song]]\nfile = 'a.mid'", "unknown key `song.file`.*\n.*`song.files`"),
        ("[[song]]\ngate = 'note'", r"\[\[song\]\] needs `files`"),
        ("[[waive]]\nrul = 'x'", "waiver 1: unknown key `rul`.*\n.*`rule`"),
        ("[[song]]\nfiles = 'x.mid'\nfacts = { key = 'H moll' }", "no key"),  # of another song
        ("gate = 'fatal'", "`gate` is one of error, warning, note"),
        ("middle_c = 'C9'", "`middle_c` is"),
        ("facts = 3", "`facts` is a table"),
        ("[facts]\nkey = 'H moll'", "no key"),
        ("[facts]\ndecay = 600", "`facts.decay` takes a time"),
        ("[facts]\ndecay = '600'", "no length of time"),
        ("[facts]\nbend_range = '12'", "takes a number"),
        ("[facts]\nbend_range = nan", "takes a finite number"),
        ("[facts]\nbass = [1]", "takes a text or a list of texts"),
        ("[facts]\none_shot = 1", "true or false"),
        ("[facts]\nsounds = ['x']", "names a sound file for each part"),
        ("[limits]\nmax_bars = 0", "a whole number above 0"),
        ("[limits]\nmax_bars = true", "a whole number above 0"),
        ("[rules]\noff-root = 3", "true, false, a level"),
        ("[rules]\noff-root = { level = 'loud' }", "is one of"),
        ("[rules]\noff-root = { on = 1 }", "true or false"),
        ("[rules]\noff-root = { least = 'x' }", "takes a number"),
        (
            "[rules]\noff-root = { levl = 'note' }",
            "unknown key `rules.off-root.levl`.*\n.*`rules.off-root.level`",
        ),
        (
            "[rules]\noff-root = { onn = true }",
            "unknown key `rules.off-root.onn`.*\n.*`rules.off-root.on`",
        ),
        ("waive = 3", r"written as \[\[waive\]\]"),
        ("plug_ins = 3", "takes a text or a list"),
        ("gate = ", "is not TOML"),
        ("\ufeff\x00", "is not TOML"),
    ],
)
def test_a_fault_in_the_file_is_named_whichever_song_is_asked_for(
    tmp_path: Path, text: str, says: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        settled(tmp_path, text)
    assert "basslint.toml" in caught.value.message
    assert re.search(says, str(caught.value))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[rules]\noff-rot = false", "off-root"),
        ("[rules]\nslide = false", "slides"),
        ("[rules]\nxyz = false", "[rules.xyz] names no rule or family.\n`basslint rules` lists"),
        ("[rules]\noff-root = { leest_beats = 1 }", "no parameter"),
        ("[[waive]]\nrule = 'off-rot'\nsong = 'a.mid'\nreason = 'x'", "Did you mean off-root"),
    ],
)
def test_names_of_rules_are_checked_against_the_book(tmp_path: Path, text: str, says: str) -> None:
    held = settled(tmp_path, text)
    with pytest.raises(SettingsError) as caught:
        held.choose(BOOK)
    assert says in str(caught.value) and str(tmp_path) in str(caught.value)


def test_a_file_of_settings_has_a_bound(tmp_path: Path) -> None:
    most = 1024 * 1024
    assert settled(tmp_path, "# ".ljust(most, "x")).gate == "error"
    with pytest.raises(SettingsError, match="longer than 1,048,576 bytes"):
        settled(tmp_path, "# ".ljust(most + 1, "x"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[facts]\ndecay = 600", 'takes a time with its unit, like "600ms"'),
        ("[facts]\ndecay = 0.6", 'takes a time with its unit, like "0.6s"'),
        ("[facts]\nglide_time = true", 'takes a time with its unit, like "600ms"'),
        ("[facts]\ndecay = 9.5", 'like "9.5s"'),
        ("[facts]\ndecay = 10", 'like "10ms"'),  # ten and more are hardly seconds
        ("[facts]\ndecay = 0", 'like "600ms"'),
        ("[facts]\ndecay = 1_000_000", 'like "600ms"'),
        ("[facts]\nbend_range = 0", "lies above 0 and at most at 127"),
        ("[facts]\nbend_range = 127.5", "lies above 0 and at most at 127"),
        ("[facts]\ntranspose = -48.5", "lies between -48 and 48"),
        ("[facts]\ncents = 4800.5", "lies between -4800 and 4800"),
        ("[facts]\none_shot = 1", "is true or false"),
        ("[facts]\nkey = 3", "takes a text"),
        ("[facts]\nsounds = 'x.wav'", "names a sound file for each part"),
        ("[facts]\nsounds = { Sub = { file = 'x', root_key = 3 } }", 'root_key = "C3"'),
        ("[limits]\nmax_bars = 0", "takes a whole number above 0"),
        ("[limits]\nmax_bars = true", "takes a whole number above 0"),
        ("[limits]\nmax_bars = 1.5", "takes a whole number above 0"),
        ("limits = 3", "is a table"),
        ("strict = { most_unjudged = 1.1 }", "is a share from 0 to 1"),
        ("strict = { most_unjudged = -0.1 }", "is a share from 0 to 1"),
        ("[rules]\noff-root = { on = 1 }", "`rules.off-root.on` is true or false"),
        ("[rules]\noff-root = 1", "is true, false, a level, or a table"),
        ('[facts]\nsound = "gone.wav"', "gone.wav, which is no file"),
        ('[facts]\nsounds = { Sub = "gone.wav" }', "`facts.sounds.Sub` names"),
        ("[facts]\nsounds = { Sub = { root_key = 'C1' } }", 'file = "…", root_key = "C3"'),
        ("[facts]\nsounds = { Sub = { file = 'x', key = 'C1' } }", "facts.sounds.Sub.key"),
        ("[rules]\nlate-change = { most_late = inf }", "takes a finite number"),
        ("[rules]\nlate-change = { most_late = nan }", "takes a finite number"),
    ],
)
def test_values_that_mean_nothing_are_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        settled(tmp_path, text)
    assert said in caught.value.message


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("[facts]\nbend_range = 127", "bend_range", 127.0),
        ("[facts]\nbend_range = 0.5", "bend_range", 0.5),
        ("[facts]\ntranspose = -48", "transpose", -48.0),
        ("[facts]\ncents = 4800", "cents", 4800.0),
        ("[facts]\none_shot = true", "one_shot", True),
    ],
)
def test_the_most_that_facts_may_be(tmp_path: Path, text: str, field: str, value: object) -> None:
    assert getattr(settled(tmp_path, text).facts, field) == value


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("true", MOST_UNJUDGED),
        ("false", None),
        ("{ most_unjudged = 0 }", 0.0),
        ("{ most_unjudged = 1 }", 1.0),
    ],
)
def test_how_strict_a_run_may_be(tmp_path: Path, text: str, share: float | None) -> None:
    assert settled(tmp_path, f"strict = {text}").most_unjudged == share


def test_a_limit_may_be_one(tmp_path: Path) -> None:
    assert settled(tmp_path, "[limits]\nmax_bars = 1").limits.max_bars == 1


@pytest.mark.parametrize(
    ("rule", "number", "whole", "says"),
    [("off-root", "sure", 1, "0 to 1"), ("two-keys", "least_percent", 100, "0 to 100")],
)
def test_a_share_above_the_whole_is_refused(
    tmp_path: Path, rule: str, number: str, whole: int, says: str
) -> None:
    settled(tmp_path, f"[rules]\n{rule} = {{ {number} = {whole} }}").choose(BOOK)
    held = settled(tmp_path, f"[rules]\n{rule} = {{ {number} = {whole + 6} }}")
    with pytest.raises(SettingsError, match=f"`{number}` cannot be {whole + 6}.*\n.*{says}"):
        held.choose(BOOK)


def test_a_number_below_nothing_is_refused_where_the_page_s_own_is_not(tmp_path: Path) -> None:
    book = read_book()
    own = next(p for r in book for p in r.parameters if r.name == "off-root" and p.default >= 0)
    held = settled(tmp_path, f"[rules]\noff-root = {{ {own.name} = -1 }}")
    with pytest.raises(SettingsError, match="cannot be -1"):
        held.choose(book)
    below = settled(tmp_path, "[rules]\nslide-after-decay = { floor_db = -30 }")
    rule = next(r for r in below.choose(book) if r.name == "slide-after-decay")
    assert rule.numbers["floor_db"] == -30


@pytest.mark.parametrize(
    ("fact", "words", "said"),
    [
        ('bass = "Tuba"', [], "basslint.toml: `facts.bass`: "),
        ('harmony = "Tuba"', [], "basslint.toml: `facts.harmony`: "),
        ("", ["--bass", "Tuba"], "basslint: --bass: "),
        ('bass = "Sub"', ["--bass", "Tuba"], "basslint: --bass: "),
    ],
)
@pytest.mark.parametrize("command", ["check", "chart"])
def test_who_named_a_part_that_is_not_there_is_told(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    command: str,
    fact: str,
    words: list[str],
    said: str,
) -> None:
    (tmp_path / "a.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    (tmp_path / "basslint.toml").write_text(f"[facts]\n{fact}\n")
    assert main([command, str(tmp_path / "a.mid"), *words]) == 2
    err = capsys.readouterr().err
    assert said in err and "has no part “Tuba”" in err
    assert ("--bass" in err) == bool(words)


def test_a_sound_of_the_settings_that_is_none_is_told_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    (tmp_path / "kick.wav").write_bytes(b"no sound")
    (tmp_path / "basslint.toml").write_text('[facts]\nsound = "kick.wav"\n')
    for words in ((), ("--bend-range", "12")):  # whatever else is said, and where
        assert main(["check", str(tmp_path / "a.mid"), *words]) == 2
        assert "basslint.toml: `facts.sound`: " in capsys.readouterr().err
