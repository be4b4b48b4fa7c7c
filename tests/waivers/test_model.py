"""Waivers match what is sounded, end on their day, and say when they are out of use."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from basslint.errors import SettingsError
from basslint.judging.results import FileReport, Finding, PartRef, Where
from basslint.util.records import replace
from basslint.waivers.model import Ledger, Waiver, apply_waivers, read_waiver

TODAY = datetime.date(2031, 5, 4)
FOLDER = Path("/repo/beats")


def finding(bar: int = 5, rule: str = "off-root", mark: str = "m1", part: str = "Sub") -> Finding:
    where = Where(
        tick=1920 * bar, end_tick=1920 * bar + 480, bar=bar, beat=1.0, time_s=0.0, end_time_s=1.0
    )
    return Finding(
        rule=rule,
        family="harmony",
        level="error",
        message="F#1 …",
        part=PartRef(2, 1, 1, part),
        where=where,
        readings=(),
        certainty=0.9,
        fix=None,
        pitch=30,
        fingerprint=mark,
    )


@pytest.mark.parametrize(
    ("waiver", "covered"),
    [
        (Waiver(rule="off-root", song="a.mid", reason="why"), True),
        (Waiver(rule="off-root", song="beats/*.mid", reason="why"), True),
        (Waiver(rule="off-root", song="b.mid", reason="why"), False),
        (Waiver(rule="slide-off-scale", song="a.mid", reason="why"), False),
        (Waiver(rule="off-root", song="a.mid", reason="why", bars=(5, 8)), True),
        (Waiver(rule="off-root", song="a.mid", reason="why", bars=(6, 8)), False),
        (Waiver(rule="off-root", song="a.mid", reason="why", part="Sub"), True),
        (Waiver(rule="off-root", song="a.mid", reason="why", part="Keys"), False),
        (Waiver(rule="off-root", song="a.mid", reason="why", sounds=("m1",)), True),
        (Waiver(rule="off-root", song="a.mid", reason="why", sounds=("m2",)), False),
        (Waiver(rule="off-root", song="a.mid", reason="why", until=TODAY), True),
        (
            Waiver(
                rule="off-root", song="a.mid", reason="why", until=TODAY - datetime.timedelta(1)
            ),
            False,
        ),
    ],
)
def test_what_a_waiver_covers(waiver: Waiver, covered: bool) -> None:
    report = FileReport(path="beats/a.mid", findings=(finding(),))
    done = apply_waivers(report, "beats/a.mid", (waiver,), TODAY)
    assert (done.report.findings[0].waived == "why") is covered
    assert done.used == (frozenset({0}) if covered else frozenset())


def told_at(*bars: int) -> Finding:
    """A finding that is told at several places."""
    first, *others = (finding(bar) for bar in bars)
    return replace(first, also=tuple(other.where for other in others))


WHY = Waiver(rule="off-root", song="*", reason="why")


@pytest.mark.parametrize(
    ("waiver", "of", "covered"),
    [
        (replace(WHY, bars=(5, 8)), told_at(5, 8), True),  # first and last bar count
        (replace(WHY, bars=(5, 8)), told_at(5, 9), False),  # every place must lie inside
        (replace(WHY, bars=(5, 8)), told_at(4, 8), False),
        (replace(WHY, part="Sub"), replace(finding(), part=None), False),  # of the whole song
        (WHY, replace(finding(), part=None), True),
    ],
)
def test_which_findings_of_its_song_a_waiver_covers(
    waiver: Waiver, of: Finding, covered: bool
) -> None:
    assert waiver.covers(of) is covered


@pytest.mark.parametrize(
    ("song", "path", "covered"),
    [
        ("a*.mid", "beats/a1.mid", True),  # by its bare name
        ("beats/*.mid", "beats/a1.mid", True),  # by its path
        ("drafts/*.mid", "beats/a1.mid", False),
        ("a1.mid", "beats/a1.mid", True),
        ("beats/a1.mid", "beats/a1.mid", True),
        ("ats/a1.mid", "beats/a1.mid", False),
        ("A1.mid", "beats/a1.mid", False),
        ("a[12].mid", "beats/a1.mid", True),
        ("a?.mid", "beats/a10.mid", False),
    ],
)
def test_which_songs_a_waiver_speaks_of(song: str, path: str, covered: bool) -> None:
    assert replace(WHY, song=song).covers_song(path) is covered


def remarks(*entries: tuple[Waiver, bool], whole: tuple[Path, ...] = ()) -> tuple[str, ...]:
    """What a run says of waivers, each given with whether it was of use."""
    ledger = Ledger(TODAY, whole)
    waivers = [w for w, _ in entries]
    used = [row for row, (_, use) in enumerate(entries) if use]
    ledger.enter(waivers, used, FOLDER, {"off-root", "late-change"})
    return ledger.remarks()


def test_waivers_out_of_use_are_named() -> None:
    over = Waiver(rule="off-root", song="a.mid", reason="why", until=TODAY - datetime.timedelta(1))
    idle, used = (
        Waiver(rule="late-change", song="a.mid", reason="why"),
        Waiver(rule="off-root", song="a.mid", reason="why"),
    )
    said = remarks((over, False), (idle, False), (used, True))
    assert len(said) == 2
    assert "ended on 2031-05-03" in said[0]
    assert "late-change" in said[1] and "matches nothing" in said[1]


def test_a_waiver_of_a_rule_that_was_not_run_is_not_idle() -> None:
    assert remarks((Waiver(rule="too-low", song="a.mid", reason="why"), False)) == ()


@pytest.mark.parametrize(
    ("whole", "told"), [((), 0), ((FOLDER / "below",), 0), ((FOLDER,), 1), ((FOLDER.parent,), 1)]
)
def test_a_waiver_for_many_songs_is_idle_only_where_all_of_them_were_checked(
    whole: tuple[Path, ...], told: int
) -> None:
    assert (
        len(remarks((Waiver(rule="off-root", song="*.mid", reason="why"), False), whole=whole))
        == told
    )


def test_a_waiver_that_served_another_song_is_of_use() -> None:
    ledger, waiver = Ledger(TODAY, (FOLDER,)), Waiver(rule="off-root", song="*.mid", reason="why")
    ledger.enter([waiver], [], FOLDER, {"off-root"})
    ledger.enter([waiver], [0], FOLDER, {"off-root"})
    assert ledger.remarks() == ()


@pytest.mark.parametrize(
    ("spoken", "told"), [((True, False), 0), ((False, True), 0), ((False, False), 1)]
)
def test_a_table_names_a_song_where_one_of_them_answers_to_it(
    spoken: tuple[bool, bool], told: int
) -> None:
    ledger = Ledger(TODAY, (FOLDER,))
    for speaks in spoken:
        ledger.meet(FOLDER / "basslint.toml", [("*-wip.mid", speaks)])
    assert len(ledger.remarks()) == told


@pytest.mark.parametrize(
    ("in_part", "folder", "told"), [(False, FOLDER, 1), (True, FOLDER, 0), (False, None, 0)]
)
def test_a_run_over_parts_of_songs_or_without_settings_calls_no_waiver_idle(
    in_part: bool, folder: Path | None, told: int
) -> None:
    ledger = Ledger(TODAY, (FOLDER,), in_part=in_part)
    ledger.enter([WHY], [], folder, {"off-root"})
    assert len(ledger.remarks()) == told


@pytest.mark.parametrize(
    ("globs", "told"),
    [
        ("gone/*.mid", 1),  # no such folder
        ("here/*.mid", 0),  # songs of it may not be in the run
        ("gone/*.mid, here/*.mid", 0),  # one of them may name a song
        ("*.mid", 0),
        ("gone/a.mid", 1),  # no such song
        ("here/a.mid", 0),
        ("gone*/a?.mid", 0),  # some folder may begin so
        ("here/gone/[ab].mid", 1),
        ("here/b.mid", 1),
        ("here/a*.mid", 0),
        ("*/a.mid", 0),
        ("gone.mid", 0),  # by its bare name it may lie anywhere
    ],
)
def test_where_not_all_songs_are_checked_globs_that_lead_nowhere_are_told(
    tmp_path: Path, globs: str, told: int
) -> None:
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "a.mid").touch()
    ledger = Ledger(TODAY)
    ledger.meet(tmp_path / "basslint.toml", [(globs, False)])
    ledger.meet(None, [("gone/*.mid", False)])
    assert [globs in remark for remark in ledger.remarks()] == [True] * told


@pytest.mark.parametrize(
    ("globs", "names", "whole", "said"),
    [
        (("a*.mid", "b.mid"), ("beats/a1.mid", "a1.mid", "b.mid"), True, []),
        (("hok.mid",), ("hook.mid",), True, ["“hok.mid” names none", "“hook.mid”?"]),
        (("x/*.wav",), (), True, ["“x/*.wav” names none", "Paths are those below that file."]),
        (("x.mid", "x.mid"), (), True, ["“x.mid” names none", "Paths are"]),  # told once
        (("a[1].mid",), ("a[1].mid",), True, []),  # the very name, brackets and all
        (("x.mid",), (), False, []),
        ((), ("hook.mid",), True, []),
    ],
)
def test_what_settings_name_and_no_song_answers_to(
    globs: tuple[str, ...], names: tuple[str, ...], whole: bool, said: list[str]
) -> None:
    ledger = Ledger(TODAY, (FOLDER,) if whole else ())
    for name in (*names, "other.mid"):  # song by song
        ledger.look_for(FOLDER / "basslint.toml", "begins", globs, [name])
        ledger.look_for(None, "begins", globs, [name])
    told = ledger.remarks()
    assert len(told) == bool(said)
    assert all(words in told[0] for words in said)
    assert not said or told[0].startswith(f"{FOLDER / 'basslint.toml'}: begins = ")


@pytest.mark.parametrize(
    ("table", "bars", "until"),
    [
        ({}, None, None),
        ({"bars": 5, "heard": "F#1"}, (5, 5), None),
        ({"bars": "5"}, (5, 5), None),
        ({"bars": "5-8"}, (5, 8), None),
        ({"bars": "5–8"}, (5, 8), None),
        ({"until": TODAY}, None, TODAY),
        ({"until": datetime.datetime(2031, 5, 4, 12)}, None, TODAY),  # a day is meant
    ],
)
def test_a_waiver_as_written(
    table: dict[str, object], bars: tuple[int, int] | None, until: datetime.date | None
) -> None:
    whole = {"rule": "off-root", "song": "a.mid", "reason": "why", **table}
    wanted = Waiver(rule="off-root", song="a.mid", reason="why", bars=bars, until=until)
    assert read_waiver(whole, "here") == replace(wanted, heard=str(table.get("heard", "")))
    narrow = {**whole, "part": "Sub", "sounds": ["m1"]}
    assert read_waiver(narrow, "here").part == "Sub"
    assert read_waiver(narrow, "here").sounds == ("m1",)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({"rule": "off-root", "song": "a.mid"}, "`reason`"),
        ({"rule": "off-root", "song": "a.mid", "reason": " "}, "`reason`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bar": 5}, "unknown key `bar`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bars": "five"}, "`bars`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "until": "soon"}, "`until`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "sounds": "m1"}, "`sounds`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "sounds": [1]}, "`sounds`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bars": "5-x"}, "`bars`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bars": "x-5"}, "`bars`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "part": 4}, "`part`"),
    ],
)
def test_a_waiver_that_is_not_whole_is_refused(table: dict[str, object], says: str) -> None:
    with pytest.raises(SettingsError, match=says) as caught:
        read_waiver(table, "basslint.toml, waiver 1")
    assert caught.value.message.startswith("basslint.toml, waiver 1: ")


def test_an_unknown_key_is_answered_with_the_nearest_known_however_far() -> None:
    with pytest.raises(SettingsError) as caught:
        read_waiver({"zzz": 1}, "here")
    assert caught.value.advice.startswith("Did you mean `")
