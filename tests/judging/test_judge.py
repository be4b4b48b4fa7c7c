"""The judge: what is not judged and why, one cause one finding, faults kept apart, fingerprints."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard, judged

from basslint.errors import BasslintError, UsageError
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import judge
from basslint.readings import base
from basslint.rulebook.loader import Rule, parse_page, read_book
from basslint.rulebook.model import Cases

BOOK = {rule.name: rule for rule in read_book()}

CHORDS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
ROOTS = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
WRONG = "A1:3.5 .:.5 | F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
LOOPED = f"tempo 140\n{CHORDS}sub | {WRONG} |*4"
ONCE = f"tempo 140\n{CHORDS}sub | {WRONG} || {ROOTS} |*3"


def rule(
    name: str = "house-rule",
    judges: str = "bass-note",
    when: str = "pitch = 30",
    extra: str = "",
    level: str = "warning",
) -> Rule:
    head = (
        f'+++\nname = "{name}"\nlevel = "{level}"\njudges = "{judges}"\nsummary = "s"\n'
        f'message = "m."\n{extra}\n[[when]]\n{when}\n+++\n'
    )
    return parse_page(head, "page.md", "house", "house")


class TestConditions:
    @pytest.mark.parametrize(
        ("when", "bars"),
        [
            ("pitch = 30", [2]),
            ("pitch = { not = 33 }", [2, 3, 4]),
            ("pitch = { one_of = [30, 36] }", [2, 3]),
            ('pitch = { above = "mid" }', [1, 3]),
            ('pitch = { below = "mid" }', [2]),
            ('pitch = { between = ["low", "mid"] }', [2, 4]),
            ('pitch = { above = "low" }\nnote_name = { not = "C2" }', [1, 4]),
            ("pitch = 30\n[[when]]\npitch = 36", [2, 3]),
            ("leap = { not = 99 }", [2, 3, 4]),  # before the first note no leap can be told
        ],
    )
    def test_a_condition_holds_where_its_test_does(self, when: str, bars: list[int]) -> None:
        numbers = "".join(
            f'[[parameter]]\nname = "{n}"\ndefault = {v}\nunit = "MIDI number"\nreason = "r"\n'
            for n, v in (("low", 30), ("mid", 31))
            if f'"{n}"' in when
        )
        verdict = judged(f"tempo 140\n{CHORDS}sub | {WRONG} |", [rule(when=when, extra=numbers)])
        assert verdict.faults == ()
        assert [f.where.bar for f in verdict.findings] == bars

    def test_the_first_case_that_holds_wins(self) -> None:
        when = 'pitch = 30\nlevel = "error"\nmessage = "first."\n[[when]]\npitch = 30'
        (found,) = judged(ONCE, [rule(when=when)]).findings
        assert (found.level, found.message) == ("error", "First.")

    def test_a_finding_carries_what_it_went_by(self) -> None:
        (found,) = judged(ONCE, [BOOK["off-root"]]).findings
        readings = dict(found.readings)
        chance = readings.pop("slip_chance")
        assert readings == {
            "explained": False,
            "resolved_blue": False,
            "bend_assumed": False,
            "slid_within_chord": False,
            "tone_stands": 3.5,
            "rises_in_minor": False,
        }
        assert isinstance(chance, float) and 0.9 < chance < 1.0
        assert found.certainty == pytest.approx(chance)  # as the page's `sure` has it
        assert found.message.startswith("F#1 holds 3.5 beats under F; the root is F. Nobody else ")
        assert found.part is not None and found.part.name == "sub"
        assert (found.where.bar, found.where.beat, found.pitch) == (2, 1.0, 30)
        # 4 quarters at 140 bpm: 4 · 60 / 140 s
        assert found.where.time_s == pytest.approx(240 / 140)

    def test_a_finding_points_at_its_bytes(self) -> None:
        chart = heard(ONCE)
        (found,) = judge(chart, [BOOK["off-root"]]).findings
        assert found.byte is not None and found.byte_length is not None
        event = chart.song.scan.data[found.byte : found.byte + found.byte_length]
        assert 30 in event


class TestNeeds:
    @pytest.mark.parametrize(
        ("judges", "fact"),
        [("bass-note", "landing-in-scale"), ("song", "note-in-scale"), ("note", "fit")],
    )
    def test_a_fact_of_another_subject_is_refused_when_the_page_is_read(
        self, judges: str, fact: str
    ) -> None:
        when = "bars = 3" if judges == "song" else "velocity = 3"
        with pytest.raises(BasslintError, match=fact):
            rule(judges=judges, when=when, extra=f'needs = ["{fact}"]')

    def test_a_song_without_a_bass_is_not_judged_and_asks_for_one(self) -> None:
        verdict = judged(f"tempo 140\n{CHORDS}", [BOOK["off-root"]])
        assert verdict.findings == ()
        (blind,) = verdict.unjudged
        assert (blind.rule, blind.start_bar, blind.end_bar) == ("off-root", 1, 17)
        assert "--bass" in blind.reason

    def test_bars_without_harmony_are_told_as_one_stretch(self) -> None:
        # no chord comes twice, so that no loop can say what the silent bars would hold
        first = "A3+C4+E4:4 | F3+A3+C4:4 | D3+F3+A3:4 | G3+B3+D4:4 | "
        keys = f"keys | {first}.:4 | .:4 | .:4 | .:4 | C4+E4+G4:4 | E3+G3+B3:4 | Bb3+D4+F4:4 |\n"
        verdict = judged(f"tempo 140\n{keys}sub | A1:3 F#1:1 |*11", [BOOK["off-root"]])
        spans = [(u.start_bar, u.end_bar) for u in verdict.unjudged]
        assert spans == [(5, 9)]
        assert all(not 5 <= f.where.bar < 9 for f in verdict.findings)

    def test_the_page_sets_how_sure_it_must_be(self) -> None:
        unsure = rule(extra="needs = { key = 1.0 }")
        verdict = judged(ONCE, [unsure])
        assert verdict.findings == ()
        assert "--key" in verdict.unjudged[0].reason
        (found,) = judged(ONCE, [rule(extra="needs = { key = 0.0 }")]).findings
        assert 0.0 < found.certainty < 1.0

    @pytest.mark.parametrize(
        ("least", "bars"),
        [(4.0, []), (3.0, [(3, 4)]), (0.5, [(1, 5)])],
    )
    def test_what_is_too_short_for_a_rule_is_not_told_as_unjudged(
        self, least: float, bars: list[tuple[int, int]]
    ) -> None:
        number = f'[[parameter]]\nname = "least"\ndefault = {least}\nunit = "beats"\nreason = "r"\n'
        lines = 'pitch = 30\nlength = { above = "least" }\n[[when]]\nlength = { above = "least" }'
        page = rule(when=lines, extra=f'needs = ["decay"]\n{number}')
        verdict = judged("tempo 140\nsub | A1:1 F1:1 A1:2 | A1:2 F1:2 | A1:4 | A1:3 F1:1", [page])
        assert [(u.start_bar, u.end_bar) for u in verdict.unjudged] == bars

    def test_no_fact_is_heard_of_which_no_row_is_left(self) -> None:
        for needs, asked in ((["decay", "phrase"], False), (["phrase", "decay"], True)):
            chart = heard(ONCE)
            verdict = judge(chart, [rule(extra=f"needs = {needs}")])
            assert {(u.start_bar, u.end_bar) for u in verdict.unjudged} == {(1, 17)}
            assert ("phrases" in vars(chart)) is asked

    @pytest.mark.parametrize(
        ("need", "advice"),
        [("decay", "--decay"), ("drums", "drum"), ("bend-range", "")],
    )
    def test_every_fact_says_what_it_lacks(self, need: str, advice: str) -> None:
        verdict = judged(ONCE, [rule(extra=f'needs = ["{need}"]')])
        assert verdict.faults == ()
        if advice:
            assert verdict.findings == ()
            assert all(advice in u.reason for u in verdict.unjudged)
            assert verdict.unjudged


class TestOneCauseOneFinding:
    def test_a_cause_hides_its_echo_on_the_same_note(self) -> None:
        cause, echo = rule("the-cause"), rule("an-echo", extra='because = ["the-cause"]')
        assert [f.rule for f in judged(ONCE, [cause, echo]).findings] == ["the-cause"]
        assert [f.rule for f in judged(ONCE, [echo]).findings] == ["an-echo"]

    def test_it_does_not_hide_one_on_another_note(self) -> None:
        cause = rule("the-cause", when="pitch = 36")
        echo = rule("an-echo", extra='because = ["the-cause"]')
        found = {(f.rule, f.where.bar) for f in judged(ONCE, [cause, echo]).findings}
        assert found == {("an-echo", 2), *(("the-cause", bar) for bar in (3, 7, 11, 15))}

    @pytest.mark.parametrize(
        ("cause", "echo", "told"),
        [
            ("error", "warning", ["the-cause"]),
            ("warning", "error", ["the-cause"]),
            ("note", "warning", ["an-echo"]),  # what is only noted explains no warning away
            ("note", "note", ["the-cause"]),
        ],
    )
    def test_the_louder_speaks_for_a_note(self, cause: str, echo: str, told: list[str]) -> None:
        rules = [
            replace(one, cases=Cases(replace(c, level=level) for c in one.cases))
            for one, level in (
                (rule("the-cause"), cause),
                (rule("an-echo", extra='because = ["the-cause"]'), echo),
            )
        ]
        assert [f.rule for f in judged(ONCE, rules).findings] == told

    def test_subjects_may_differ(self) -> None:
        cause = rule("the-cause")
        echo = rule("an-echo", judges="note", extra='because = ["the-cause"]')
        assert [f.rule for f in judged(ONCE, [cause, echo]).findings] == ["the-cause"]

    def test_repeats_of_the_loop_share_a_cause_but_no_fingerprint(self) -> None:
        fifths = LOOPED.replace("F#1", "C2")  # the fifth of F, where its root is expected
        found = judged(fifths, [BOOK["inverted-root"]]).findings
        assert [f.where.bar for f in found] == [2, 6, 10, 14]
        assert len({f.cause for f in found}) == 1
        assert len({f.fingerprint for f in found}) == 4

    def test_a_figure_that_returns_is_one_finding_with_one_fix_for_all(self) -> None:
        (found,) = judged(LOOPED, [BOOK["off-root"]]).findings
        assert [where.bar for where in found.places] == [2, 6, 10, 14]
        assert found.fix is not None and len(found.fix.edits) == 4

    def test_a_fingerprint_survives_an_inserted_bar(self) -> None:
        (before,) = judged(ONCE, [BOOK["off-root"]]).findings
        later = ONCE.replace("keys |", "keys | A3+C4+E4:4 |*1").replace("sub |", "sub | A1:4 |*1")
        moved = judged(later, [BOOK["off-root"]]).findings
        assert before.fingerprint in {f.fingerprint for f in moved}
        assert min(f.where.bar for f in moved) == 3


class TestFaults:
    def test_a_rule_that_crashes_stops_no_other(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def crash(chart: Chart) -> base.Column:
            raise ZeroDivisionError("by design")

        broken = base.Reading(
            name="velocity",
            of="bass-note",
            unit="1–127",
            source="none",
            column=crash,
        )
        monkeypatch.setitem(base.registered("bass-note"), "velocity", broken)
        verdict = judged(ONCE, [rule("a-crash", when="velocity = 100"), BOOK["off-root"]])
        assert [f.rule for f in verdict.findings] == ["off-root"]
        (fault,) = verdict.faults
        assert "a-crash" in fault and "by design" in fault

    def test_a_reading_of_the_wrong_length_is_a_fault(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        short = base.Reading(
            name="velocity",
            of="bass-note",
            unit="1–127",
            source="none",
            column=lambda _: np.zeros(3),
        )
        monkeypatch.setitem(base.registered("bass-note"), "velocity", short)
        verdict = judged(ONCE, [rule("too-short", when="velocity = 100")])
        assert verdict.findings == ()
        assert "velocity" in verdict.faults[0]

    def test_what_a_rule_would_explain_is_said_where_its_own_words_fail(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def crash(chart: Chart) -> base.Column:
            raise RuntimeError("no name")

        broken = base.Reading(
            name="slip_words",
            of="bass-note",
            unit="text",
            source="none",
            column=crash,
        )
        effect = rule("an-effect", extra='because = ["off-root"]')
        both = [BOOK["off-root"], effect]
        assert [f.rule for f in judged(ONCE, both).findings] == ["off-root"]
        monkeypatch.setitem(base.registered("bass-note"), "slip_words", broken)
        verdict = judged(ONCE, both)
        assert [f.rule for f in verdict.findings] == ["an-effect"]
        (fault,) = verdict.faults
        assert "off-root" in fault and "no name" in fault

    def test_a_part_that_does_not_exist_is_the_users_error(self) -> None:
        chart = Chart(heard(ONCE).song, Facts(bass=("Sup",)))
        with pytest.raises(UsageError, match="sub"):
            judge(chart, [BOOK["off-root"]])

    def test_a_song_without_notes(self) -> None:
        verdict = judged("tempo 140", BOOK.values())
        assert verdict.faults == ()
        assert verdict.findings == ()


def test_findings_come_in_order_of_place_then_level() -> None:
    rules = [rule("a-note", level="note"), rule("an-error", level="error")]
    found = judged(LOOPED, rules).findings
    assert [f.where.bar for f in found] == [2, 2, 6, 6, 10, 10, 14, 14]
    assert [f.level for f in found[:2]] == ["error", "note"]


def test_a_rule_on_the_sound_is_silent_where_no_sound_was_named() -> None:
    heard = judged("tempo 140\nkeys | A3+C4+E4:4 |*4\nsub | A1:3.5 |*4", read_book())
    assert "sound-off-pitch" not in {u.rule for u in heard.unjudged}


def test_without_a_bass_no_rule_on_fills_of_a_bass_has_judged() -> None:
    drums = "drums | C2:1 D2:1 C2:1 D2:1 | C2:1 D2:1 C2:1 D2:1/8x8 |*4"
    heard = judged(f"tempo 140\nkeys | A3+C4+E4:4 |*8\n{drums}", read_book())
    unjudged = {u.rule for u in heard.unjudged if u.reason.startswith("no bass part was found")}
    assert {"roll-blurs", "roll-slides-by-accident", "roll-misses-snare", "off-root"} <= unjudged
    assert not unjudged & {"flat-roll", "roll-off-grid", "fill-off-phrase", "doubled-note"}
