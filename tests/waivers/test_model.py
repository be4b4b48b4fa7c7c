"""Waivers match what is sounded, end on their day, and say when they are out of use."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from basslint.errors import SettingsError
from basslint.judging.results import FileReport, Finding, PartRef, Where
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
    ("table", "says"),
    [
        ({"rule": "off-root", "song": "a.mid"}, "`reason`"),
        ({"rule": "off-root", "song": "a.mid", "reason": " "}, "`reason`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bar": 5}, "unknown key `bar`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "bars": "five"}, "`bars`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "until": "soon"}, "`until`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "sounds": "m1"}, "`sounds`"),
        ({"rule": "off-root", "song": "a.mid", "reason": "x", "part": 4}, "`part`"),
    ],
)
def test_a_waiver_that_is_not_whole_is_refused(table: dict[str, object], says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        read_waiver(table, "basslint.toml, waiver 1")
