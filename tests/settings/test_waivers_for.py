"""Which waivers let findings stand, and what is told where none can be written."""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.errors import SettingsError, UsageError
from basslint.judging.results import FileReport, Finding, PartRef, Where
from basslint.settings.waiver_writer import (
    add_waivers,
    home_of,
    matching,
    name_in,
    waivers_for,
)
from basslint.util.records import replace


def where(bar: int) -> Where:
    return Where(
        tick=1920 * bar, end_tick=1920 * bar + 480, bar=bar, beat=1.0, time_s=0.0, end_time_s=1.0
    )


def finding(
    bar: int, part: str = "Sub", rule: str = "off-root", waived: str | None = None
) -> Finding:
    return Finding(
        rule=rule,
        family="harmony",
        level="error",
        message=f"Off {'abcdefghij'[bar]}.",
        part=PartRef(2, 1, 1, part),
        where=where(bar),
        readings=(),
        certainty=0.9,
        fix=None,
        pitch=30,
        fingerprint=f"m{bar % 4}",
        waived=waived,
    )


@pytest.mark.parametrize(
    ("bars", "heard", "sounds"),
    [
        ([1], "bar 1: Off b.", ("m1",)),
        ([2, 1], "bar 1: Off b. bar 2: Off c.", ("m1", "m2")),  # in order of time
        ([1, 2, 3, 4], "bar 1: Off b. bar 2: Off c. bar 3: Off d. bar 4: Off e.",
         ("m1", "m2", "m3", "m0")),
        ([1, 2, 3, 4, 5],
         "bar 1: Off b. bar 2: Off c. bar 3: Off d. bar 4: Off e. And 1 more.",
         ("m1", "m2", "m3", "m0")),
        ([1, 2, 3, 4, 5, 6],
         "bar 1: Off b. bar 2: Off c. bar 3: Off d. bar 4: Off e. And 2 more.",
         ("m1", "m2", "m3", "m0")),  # what is sounded again is named once
    ],
)  # fmt: skip
def test_a_waiver_reminds_of_four_findings_and_counts_the_rest(
    bars: list[int], heard: str, sounds: tuple[str, ...]
) -> None:
    (one,) = waivers_for([finding(bar) for bar in bars], "a.mid", "why")
    assert (one.heard, one.sounds, one.bars, one.part) == (heard, sounds, None, "Sub")


def test_a_matter_that_repeats_is_told_once_with_all_its_bars() -> None:
    """Three strokes of one wrong note in one bar filled the settings with one sentence three times;
    a roll that was waived in two bars named one of them."""
    strokes = [replace(finding(7), message=f"A#1 holds {n} beats.") for n in (1, 1.5, 2)]
    roll = replace(finding(8), message="A buzz.", also=(where(16),))
    (one,) = waivers_for([*strokes, roll], "a.mid", "why")
    assert one.heard == "bar 7: A#1 holds 1 beats. bars 8, 16: A buzz."
    many = replace(roll, also=tuple(where(bar) for bar in range(9, 17)))
    (one,) = waivers_for([many], "a.mid", "why")
    assert one.heard == "bars 8, 9, 10, 11, 12, 13, 14, 15, …: A buzz."


def test_each_rule_and_part_has_a_waiver_of_its_own() -> None:
    found = [finding(1), finding(2, part="Keys"), finding(3, rule="too-low")]
    song = replace(finding(4), part=None)
    told = waivers_for([*found, song], "a.mid", "why")
    assert [(w.rule, w.part) for w in told] == [
        ("off-root", None), ("off-root", "Keys"), ("off-root", "Sub"), ("too-low", "Sub"),
    ]  # fmt: skip


SEVERAL = replace(finding(5), also=(where(9),))
DONE = finding(2, waived="A pedal.")


@pytest.mark.parametrize(("bar", "found"), [(None, [5, 7]), (7, [7]), (9, [5]), (5, [5])])
def test_the_findings_that_a_waiver_may_be_written_for(bar: int | None, found: list[int]) -> None:
    report = FileReport(path="a.mid", findings=(SEVERAL, finding(7), DONE, finding(3, rule="x")))
    assert [f.where.bar for f in matching(report, "off-root", bar)] == found


@pytest.mark.parametrize(
    ("findings", "bar", "told", "advice"),
    [
        ((DONE,), None, "off-root is already waived.", "The reason that stands: A pedal."),
        ((DONE,), 2, "off-root is already waived in bar 2.", "A pedal."),
        ((DONE,), 3, "finds nothing to waive in bar 3.", "`basslint check` lists what stands."),
        ((DONE, finding(7)), 2, "off-root is already waived in bar 2.", "A pedal."),
        ((DONE, finding(7)), 3, "finds nothing to waive in bar 3.", "findings in bar 7."),
        ((SEVERAL, finding(7)), 3, "finds nothing to waive in bar 3.", "in bars 5, 7, 9."),
        ((), None, "off-root finds nothing to waive.", "`basslint check` lists what stands."),
    ],
)
def test_where_nothing_is_left_to_waive(
    findings: tuple[Finding, ...], bar: int | None, told: str, advice: str
) -> None:
    with pytest.raises(UsageError) as caught:
        matching(FileReport(path="a.mid", findings=findings), "off-root", bar)
    assert told in caught.value.message and advice in caught.value.advice


@pytest.mark.parametrize(
    ("there", "here", "home"),
    [
        ((), "repo", "repo/basslint.toml"),  # a new one where one stands, above the song
        ((), "repo/beats", "repo/beats/basslint.toml"),
        ((), "other", "repo/beats/basslint.toml"),  # beside the song, which lies elsewhere
        (("repo/basslint.toml",), "other", "repo/basslint.toml"),
        (("repo/basslint.toml",), "repo/beats", "repo/basslint.toml"),
    ],
)
def test_the_settings_file_that_a_waiver_goes_into(
    there: tuple[str, ...], here: str, home: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("repo/beats", "other"):
        (tmp_path / name).mkdir(parents=True)
    for name in there:
        (tmp_path / name).touch()
    monkeypatch.chdir(tmp_path / here)
    assert home_of(tmp_path / "repo/beats/a.mid") == tmp_path / home


def test_a_song_is_called_by_its_path_below_the_settings(tmp_path: Path) -> None:
    home = tmp_path / "basslint.toml"
    assert name_in(home, tmp_path / "beats" / "a.mid") == "beats/a.mid"
    assert name_in(home, Path("/elsewhere/a.mid")) == "a.mid"
    with pytest.raises(UsageError, match="no settings file can name it"):
        name_in(home, tmp_path / "\udcff.mid")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("waive = []\n", "`waive` is written as [[waive]]."),
        ('waive = [{ rule = "x", song = "y", reason = "z" }]', "`waive` is written as [[waive]]."),
        ("gate = \n", "is not TOML: Invalid value (at line 1"),
    ],
)
def test_a_file_that_no_waiver_can_be_added_to_is_told_and_kept(
    text: str, told: str, tmp_path: Path
) -> None:
    home = tmp_path / "basslint.toml"
    home.write_text(text)
    with pytest.raises(SettingsError) as caught:
        add_waivers(home, waivers_for([finding(1)], "a.mid", "why"))
    assert told in caught.value.message and caught.value.advice
    assert home.read_text() == text


def test_a_new_settings_file_begins_with_its_first_waiver(tmp_path: Path) -> None:
    home = tmp_path / "basslint.toml"
    add_waivers(home, waivers_for([finding(1), finding(1, part="Keys")], "a.mid", "why"))
    assert home.read_text().startswith("[[waive]]\nrule = ")
    assert "\n\n[[waive]]\n" in home.read_text() and not home.read_text().endswith("\n\n")
