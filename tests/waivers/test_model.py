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
    where = Where(1920 * bar, 1920 * bar + 480, bar, 1.0, 0.0, 1.0)
    return Finding(rule, "harmony", "error", "F#1 …", PartRef(2, 1, 1, part), where, (), 0.9, None,
                   pitch=30, fingerprint=mark)  # fmt: skip


@pytest.mark.parametrize(
    ("waiver", "covered"),
    [
        (Waiver("off-root", "a.mid", "why"), True),
        (Waiver("off-root", "beats/*.mid", "why"), True),
        (Waiver("off-root", "b.mid", "why"), False),
        (Waiver("slide-off-scale", "a.mid", "why"), False),
        (Waiver("off-root", "a.mid", "why", bars=(5, 8)), True),
        (Waiver("off-root", "a.mid", "why", bars=(6, 8)), False),
        (Waiver("off-root", "a.mid", "why", part="Sub"), True),
        (Waiver("off-root", "a.mid", "why", part="Keys"), False),
        (Waiver("off-root", "a.mid", "why", sounds=("m1",)), True),
        (Waiver("off-root", "a.mid", "why", sounds=("m2",)), False),
        (Waiver("off-root", "a.mid", "why", until=TODAY), True),
        (Waiver("off-root", "a.mid", "why", until=TODAY - datetime.timedelta(1)), False),
    ],
)
def test_what_a_waiver_covers(waiver: Waiver, covered: bool) -> None:
    report = FileReport("beats/a.mid", findings=(finding(),))
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
    over = Waiver("off-root", "a.mid", "why", until=TODAY - datetime.timedelta(1))
    idle, used = Waiver("late-change", "a.mid", "why"), Waiver("off-root", "a.mid", "why")
    said = remarks((over, False), (idle, False), (used, True))
    assert len(said) == 2
    assert "ended on 2031-05-03" in said[0]
    assert "late-change" in said[1] and "matches nothing" in said[1]


def test_a_waiver_of_a_rule_that_was_not_run_is_not_idle() -> None:
    assert remarks((Waiver("too-low", "a.mid", "why"), False)) == ()


@pytest.mark.parametrize(
    ("whole", "told"), [((), 0), ((FOLDER / "below",), 0), ((FOLDER,), 1), ((FOLDER.parent,), 1)]
)
def test_a_waiver_for_many_songs_is_idle_only_where_all_of_them_were_checked(
    whole: tuple[Path, ...], told: int
) -> None:
    assert len(remarks((Waiver("off-root", "*.mid", "why"), False), whole=whole)) == told


def test_a_waiver_that_served_another_song_is_of_use() -> None:
    ledger, waiver = Ledger(TODAY, (FOLDER,)), Waiver("off-root", "*.mid", "why")
    ledger.enter([waiver], [], FOLDER, {"off-root"})
    ledger.enter([waiver], [0], FOLDER, {"off-root"})
    assert ledger.remarks() == ()


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
