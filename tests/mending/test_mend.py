"""Mending against judges made up for the purpose: what is applied, set aside, undone and told."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import numpy as np
import pytest
from made_up_judges import Told, counted, edit, judge, line, never, pitches, turn
from midi_bytes import midi, track

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.judging.results import FileReport
from basslint.mending import writing
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.mending.patch import patched
from basslint.mending.turns import IN_A_CIRCLE, MOST_TURNS, MOST_WRITES, NOT_REACHED
from basslint.mending.units import BY_EAR, NO_FIX, NOT_CHOSEN, WAIVED
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.util.files import write_atomically
from basslint.util.records import replace


def test_safe_fixes_are_applied_and_the_rest_is_told_why() -> None:
    result = mend(
        line(36, 41, 43, 45),
        judge(wrong=turn(41, 40), odd=turn(43, 44, kind="by-ear"), hopeless=never(45)),
    )
    assert pitches(result.data) == [36, 40, 43, 45]
    assert [a.finding.rule for a in result.applied] == ["wrong"]
    assert {(x.finding.rule, x.why) for x in result.left} == {("odd", BY_EAR), ("hopeless", NO_FIX)}
    assert not result.faults and not result.conflicts
    assert [f.rule for f in result.before.findings] == ["wrong", "odd", "hopeless"]


@pytest.mark.parametrize(
    ("choice", "after"),
    [
        (Choice(by_ear=True), [40, 44]),
        (Choice(only=frozenset({"odd"}), by_ear=True), [41, 44]),
        (Choice(leave=frozenset({"odd"}), by_ear=True), [40, 43]),
        (Choice(only=frozenset({"other"})), [41, 43]),
    ],
)
def test_choice_of_fixes(choice: Choice, after: list[int]) -> None:
    recheck = judge(wrong=turn(41, 40), odd=turn(43, 44, kind="by-ear"))
    result = mend(line(41, 43), recheck, choice)
    assert pitches(result.data) == after
    if after == [41, 43]:
        assert {x.why for x in result.left} == {NOT_CHOSEN}


def test_fixes_of_one_event_are_both_left() -> None:
    raw = line(36, 41)
    result = mend(raw, judge(low=turn(41, 40), high=turn(41, 43)))
    assert result.data == raw
    assert [sorted(f.rule for f in c.findings) for c in result.conflicts] == [["high", "low"]]
    assert all("the same notes" in left.why for left in result.left)


def test_fixes_that_share_events_by_way_of_a_third_are_one_conflict() -> None:
    def both(song: Song, row: int) -> Told:
        edits = (edit(song, 0, "pitch", 35), edit(song, 1, "pitch", 40))
        return ("error", "safe", edits) if row == 0 and song.notes.pitch[0] == 36 else None

    recheck = judge(low=turn(36, 38), high=turn(41, 43), both=both)
    (conflict,) = mend(line(36, 41), recheck).conflicts
    assert sorted(f.rule for f in conflict.findings) == ["both", "high", "low"]


def test_a_safe_fix_goes_before_one_by_ear_of_the_same_event() -> None:
    recheck = judge(safe=turn(41, 40), bold=turn(41, 48, kind="by-ear"))
    result = mend(line(36, 41), recheck, Choice(by_ear=True))
    assert pitches(result.data) == [36, 40] and not result.left and not result.conflicts
    held = judge(one=turn(41, 40), two=turn(41, 43), bold=turn(41, 48, kind="by-ear"))
    left = mend(line(36, 41), held, Choice(by_ear=True)).left
    assert len(left) == 3 and all("neither was applied" in x.why for x in left)


def test_a_fix_by_ear_has_its_turn_where_the_safe_one_is_undone() -> None:
    recheck = judge(
        safe=turn(41, 40), harm=never(40, level="error"), bold=turn(41, 48, kind="by-ear")
    )
    result = mend(line(36, 41), recheck, Choice(by_ear=True))
    assert pitches(result.data) == [36, 48]
    assert len(result.faults) == 1 and "brought about harm" in result.faults[0]


def test_nothing_waits_for_a_safe_fix_that_is_set_aside() -> None:
    """One safe fix touches both notes, another the first, one by ear the second."""

    def both(song: Song, row: int) -> Told:
        if int(song.notes.pitch[row]) != 41:
            return None
        return ("error", "safe", (edit(song, row, "pitch", 40), edit(song, row + 1, "pitch", 50)))

    raw = line(41, 43)
    recheck = judge(both=both, first=turn(41, 39), second=turn(43, 44, kind="by-ear"))
    result = mend(raw, recheck, Choice(by_ear=True))
    assert result.data == raw
    assert len(result.left) == 3 and all("neither was applied" in x.why for x in result.left)


def test_rules_that_ask_for_the_same_edits_agree() -> None:
    result = mend(line(36, 41), judge(one=turn(41, 40), other=turn(41, 40)))
    assert pitches(result.data) == [36, 40]
    assert {a.finding.rule for a in result.applied} == {"one", "other"}


@pytest.mark.parametrize("order", [("wrong", "good"), ("good", "wrong")])
def test_a_fix_that_brings_about_another_finding_is_undone_and_reported(
    order: tuple[str, ...],
) -> None:
    rules = {"wrong": turn(41, 40), "good": turn(43, 45)}
    result = mend(line(41, 36, 43), judge(**{n: rules[n] for n in order}, fresh=never(40)))
    assert pitches(result.data) == [41, 36, 45]
    assert [a.finding.rule for a in result.applied] == ["good"]
    assert len(result.faults) == 1 and "brought about fresh" in result.faults[0]
    assert "undone" in result.left[0].why


def test_a_cured_error_may_leave_a_note() -> None:
    result = mend(line(41, 36), judge(wrong=turn(41, 40), small=never(40, level="note")))
    assert pitches(result.data) == [40, 36]
    assert [(x.finding.rule, x.why) for x in result.left] == [("small", NO_FIX)]


def test_a_fix_that_does_not_cure_is_undone() -> None:
    raw = line(41, 36)
    stays = turn(41, 41)
    result = mend(raw, judge(wrong=stays))
    assert result.data == raw
    assert "still stands" in result.faults[0]


def test_a_finding_that_goes_along_with_its_note_is_no_new_one() -> None:
    """The low note stays low when it is moved; that is not the move's fault."""

    def late(song: Song, row: int) -> Told:
        start = int(song.notes.start[row])
        return ("error", "safe", (edit(song, row, "move", start - 10),)) if start == 490 else None

    raw = midi(track((490, b"\x90\x18\x64"), (400, b"\x80\x18\x40")))
    result = mend(raw, judge(late=late, low=never(24)))
    assert build(scan(result.data)).notes.start.tolist() == [480]
    assert [x.finding.rule for x in result.left] == ["low"]
    assert not result.faults


def test_what_mending_makes_mendable_is_mended_in_the_same_run() -> None:
    """Lesser findings that a cure lays bare are cured in the next round."""
    result = mend(line(41), judge(wrong=turn(41, 40), small=turn(40, 38, level="warning")))
    assert pitches(result.data) == [38]
    assert [a.finding.rule for a in result.applied] == ["wrong", "small"]


def test_rules_that_chase_each_other_change_nothing() -> None:
    raw = line(41, 40)
    result = mend(raw, judge(up=turn(40, 41), down=turn(41, 40)))
    assert mend(result.data, judge(up=turn(40, 41), down=turn(41, 40))).data == result.data
    assert result.faults


def test_a_fix_after_which_the_same_places_are_told_of_another_pitch_is_undone() -> None:
    """Two lines that swap their notes clash where they clashed."""
    told = judge(up=turn(41, 43), down=turn(43, 41))

    def clash(data: bytes) -> FileReport:
        """One finding, of all places: the pitch of its first one changes with the swap."""
        report = told(data)
        first, *rest = report.findings
        up, down = (f.fix for f in report.findings)
        assert up is not None and down is not None
        fix = replace(up, edits=(*up.edits, *down.edits))
        one = replace(first, rule="clash", fix=fix, also=tuple(f.where for f in rest))
        return replace(report, findings=(one,))

    raw = line(41, 43)
    result = mend(raw, clash)
    assert result.data == raw and not result.applied
    assert "clash still stands" in result.faults[0]


def test_a_fix_that_leads_back_is_not_applied(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the comparison misses: no state of the song is come back to."""
    monkeypatch.setattr("basslint.mending.mend.undone", lambda *_: {})
    recheck, asked = counted(judge(up=turn(40, 41), down=turn(41, 40)))
    result = mend(line(41), recheck)
    assert pitches(result.data) == [40]
    assert [x.why for x in result.left] == [IN_A_CIRCLE]
    assert len(asked) == 3  # the two, and the way back


def test_an_edit_that_cannot_be_written_leaves_the_others() -> None:
    """A note that would end before it starts is left, with the reason."""

    def outside(song: Song, row: int) -> Told:
        if song.notes.pitch[row] == 50:
            return "error", "safe", (edit(song, row, "end", -5),)
        return None

    result = mend(line(50, 41), judge(outside=outside, wrong=turn(41, 40)))
    assert pitches(result.data) == [50, 40]
    assert "would last from tick" in result.left[0].why


def nested() -> bytes:
    """A G2 inside an E2, and a C3 after both."""
    return midi(
        track(
            (0, b"\x90\x28\x64"),
            (240, b"\x90\x2b\x64"),
            (240, b"\x80\x2b\x40"),
            (480, b"\x80\x28\x40"),
            (0, b"\x90\x30\x64"),
            (480, b"\x80\x30\x40"),
        )
    )


def test_a_fix_that_needed_another_that_was_undone_is_left_with_the_reason() -> None:
    """G2 may become E2 only if the E2 around it goes; that it goes brings about a finding."""
    rules = judge(away=turn(40, 38), into=turn(43, 40), other=turn(48, 50), fresh=never(38))
    result = mend(nested(), rules)
    assert pitches(result.data) == [40, 43, 50]
    assert [a.finding.rule for a in result.applied] == ["other"]
    why = {x.finding.rule: x.why for x in result.left}
    assert "brought about fresh" in why["away"]
    assert "would run into another one of the same pitch" in why["into"]
    assert mend(result.data, rules).data == result.data


def test_the_same_bytes_are_judged_once() -> None:
    """What one round gave up is tried again in the next, which is no new question."""
    recheck, asked = counted(judge(wrong=turn(41, 40), fresh=never(40), good=turn(43, 45)))
    result = mend(line(41, 36, 43), recheck)
    assert result.faults and result.applied
    assert len(asked) == len(set(asked)) == 3  # as given, with both fixes, with the good one


def test_mending_stops_in_the_end_and_says_so() -> None:
    """Each try of the fixes shows only one more of them that brings about a finding."""

    def fresh(song: Song, row: int) -> Told:
        first = np.flatnonzero(song.notes.pitch == 40)[:1]
        return ("error", "safe", ()) if row in first else None

    raw = line(*[41, 36] * 30)
    recheck, asked = counted(judge(wrong=turn(41, 40), fresh=fresh))
    result = mend(raw, recheck)
    assert len(asked) == MOST_TURNS
    assert result.data == raw
    assert len(result.faults) == MOST_TURNS - 1
    assert [x.why for x in result.left].count(NOT_REACHED) == 30 - len(result.faults)
    assert "mend for this rule alone" in NOT_REACHED


def test_fixes_that_can_never_be_written_are_given_up_soon(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Hundreds of notes each inside another that it may not join; the good fixes are done."""
    written = []

    def counted_patch(raw: bytes, song: Song, edits: list[Edit]) -> tuple[bytes, Song]:
        written.append(len(edits))
        return patched(raw, song, edits)

    monkeypatch.setattr(writing, "patched", counted_patch)
    inside = [
        (0, b"\x90\x28\x64"), (60, b"\x90\x2b\x64"), (60, b"\x80\x2b\x40"), (60, b"\x80\x28\x40"),
    ]  # fmt: skip
    raw = midi(track(*inside * 300, (0, b"\x90\x30\x64"), (60, b"\x80\x30\x40")))
    good = {"a": turn(48, 50), "b": turn(50, 51, "warning"), "c": turn(51, 52, "note")}
    result = mend(raw, judge(into=turn(43, 40), **good))
    assert [a.finding.rule for a in result.applied] == ["a", "b", "c"]  # a round each
    assert len(result.left) == 300 and NOT_REACHED in {x.why for x in result.left}
    assert len(written) == MOST_WRITES


def test_waived_findings_are_left_alone() -> None:
    recheck = judge(wrong=turn(41, 40))

    def waiving(data: bytes) -> FileReport:
        report = recheck(data)
        findings = tuple(f.waive("meant so") for f in report.findings)
        return FileReport(path=report.path, chart=report.chart, findings=findings)

    raw = line(41)
    result = mend(raw, waiving)
    assert result.data == raw
    assert [x.why for x in result.left] == [WAIVED]


def test_a_file_that_cannot_be_read_is_one_error() -> None:
    with pytest.raises(MendError, match=r"x\.mid could not be read: This is not a MIDI file"):
        mend(b"hello, this is no music", judge())


@pytest.mark.parametrize("seed", range(12))
def test_mending_twice_changes_nothing(seed: int) -> None:
    """Rules that clash, chase and uncover each other, on many lines."""
    raw = line(*(36 + (seed * 7 + n * n * 5) % 13 for n in range(12)))
    rules = judge(
        a=turn(36, 37),
        b=turn(37, 41, level="warning"),
        c=turn(41, 36, level="note"),
        d=turn(41, 40),
        e=turn(44, 45),
        f=never(45, level="warning"),
        g=turn(46, 46),
    )
    once = mend(raw, rules)
    twice = mend(once.data, rules)
    assert twice.data == once.data
    assert not twice.applied


# Writing


def test_a_new_file_is_written_and_an_old_one_keeps_its_mode(tmp_path: Path) -> None:
    new, old = tmp_path / "new.mid", tmp_path / "old.mid"
    old.write_bytes(b"old")
    old.chmod(0o640)
    for path in (new, old):
        write_atomically(path, b"fresh")
        assert path.read_bytes() == b"fresh"
    assert stat.S_IMODE(old.stat().st_mode) == 0o640
    assert sorted(p.name for p in tmp_path.iterdir()) == ["new.mid", "old.mid"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.mid", tmp_path / "link.mid"
    real.write_bytes(b"old")
    link.symlink_to(real)
    write_atomically(link, b"fresh")
    assert link.is_symlink() and real.read_bytes() == b"fresh"


def test_read_only_and_odd_targets_are_left_whole(tmp_path: Path) -> None:
    locked, folder = tmp_path / "locked.mid", tmp_path / "folder.mid"
    locked.write_bytes(b"old")
    locked.chmod(0o444)
    folder.mkdir()
    for path, told in ((locked, "read-only"), (folder, "no ordinary file")):
        with pytest.raises(MendError, match=told):
            write_atomically(path, b"fresh")
    assert locked.read_bytes() == b"old"
    with pytest.raises(MendError, match="could not be written") as caught:
        write_atomically(tmp_path / "gone" / "x.mid", b"fresh")
    assert "folder exists" in caught.value.advice


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_trouble_at_any_step_leaves_the_old_file_and_no_half_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, error: BaseException
) -> None:
    path = tmp_path / "beat.mid"
    path.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(os, step, fail)
    with pytest.raises((MendError, KeyboardInterrupt)):
        write_atomically(path, b"fresh")
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["beat.mid"]
