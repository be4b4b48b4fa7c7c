"""What is said of a bass where the chord of a loop glides into the next: Am into Dm over a beat.

A bass on either end is right, one on neither end is told, and so is a slide into a wrong note; one
that goes along is not mentioned (common practice, no source).
"""

from __future__ import annotations

import pytest
from loop_sounds import gliding, write

from basslint.audio.placed import place_loops
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedLoop
from basslint.hear.harmony.sources import LOOP
from basslint.judging.judge import Verdict, judge
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build

RULES = tuple(
    rule for rule in read_book() if rule.name in ("off-root", "late-change", "slide-off-scale")
)
BEAT = "tempo 100\nkick | C2:2 C2:2 |*8\nsub | A1:3.5 .:.5 |*3 || {} || D2:3.5 .:.5 |*4\n"


@pytest.fixture(scope="module")
def loop(tmp_path_factory):
    return str(write(tmp_path_factory.mktemp("glide") / "slide.wav", gliding()))


def chart_of(loop: str, bar: str, wheel: str = "") -> Chart:
    song = build(scan(compile_beat(BEAT.format(bar) + wheel).data))
    return Chart(song, Facts(), "", place_loops(song, (StatedLoop(file=loop),), 600.0))


def told(verdict: Verdict) -> list[str]:
    return [finding.rule for finding in verdict.findings]


@pytest.mark.parametrize(
    ("bar", "said"),
    [
        ("A1:4", []),  # the chord it comes from, to the last
        ("A1:3 D2:1", []),  # the chord it goes to, from the first
        ("A1:3 C2:1", []),  # a tone of the one
        ("A1:3~.5 D2:1", []),  # slides along
        ("A1:3.5~.25 D2:.5", []),
        ("A1:3 B1:1", ["off-root"]),
        ("A1:3 Eb2:1", ["off-root"]),
        ("A1:3~.5 Eb2:1", ["slide-off-scale"]),
    ],
)
def test_either_end_is_right_and_neither_is_told(loop: str, bar: str, said: list[str]) -> None:
    assert told(judge(chart_of(loop, bar), RULES)) == said


def test_the_wheel_may_go_along_and_may_not_go_beyond(loop: str) -> None:
    wheel = "sub wheel 12\nsub bend | 1:0 | 1:0 | 1:0 | 4:0 4.6:+{0} 4.99:+{0} | 1:0 |\n"
    assert told(judge(chart_of(loop, "A1:4", wheel.format(5)), RULES)) == []
    assert told(judge(chart_of(loop, "A1:4", wheel.format(6)), RULES)) == ["slide-off-scale"]


def test_no_root_is_claimed_on_the_way(loop: str) -> None:
    chart = chart_of(loop, "A1:4")
    beat = chart.song.division
    under = (chart.roots.start < 16 * beat) & (chart.roots.end > 15 * beat)
    assert chart.roots.root[under].tolist() == [-1]
    assert (chart.roots.source[under] == LOOP).all()


def test_a_note_on_neither_end_is_told_with_both_chords(loop: str) -> None:
    (finding,) = judge(chart_of(loop, "A1:3 B1:1"), RULES).findings
    assert "while Am moves to Dm" in finding.message


def test_a_note_that_may_go_along_is_not_judged(loop: str) -> None:
    unjudged = judge(chart_of(loop, "A1:3 D2:1"), RULES).unjudged
    assert "the chord of the loop moves here" in {one.reason for one in unjudged}
