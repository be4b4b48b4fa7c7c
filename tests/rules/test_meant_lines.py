"""What songs that other people made taught: riffs, walks, drones and runs that are meant.

Each case is one that was told aloud in a song that nobody had read before, and was meant there.
Common practice, no source, unless said.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

BOOK = {rule.name: rule for rule in read_book()}
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
CHORDS = "C4+E4+G4:4 | C4+E4+G4:3 Bb3+D4+F4:1"
RIFF = "C3:2 Bb2:1.5 G2:.5"


def levels(text: str, rule: str) -> list[str]:
    return [found.level for found in judged(text, [BOOK[rule]]).findings]


def read(text: str, name: str, subject: str = "bass-note") -> list[object]:
    return registered(subject)[name].column(heard(text)).tolist()


@pytest.mark.parametrize(
    ("odd", "told"),
    [
        (RIFF, []),  # it has its Bb under C alone in every other bar
        ("C3:4", ["warning"]),  # it has it where Bb follows alone
    ],
)
def test_a_riff_is_not_early_for_a_chord(odd: str, told: list[str]) -> None:
    """Bb on the third beat, and a chord of Bb on the fourth of every second bar."""
    bars = f"{odd} | {RIFF}"
    text = f"tempo 120\nkeys | {CHORDS} |*4\nsub | {bars} |*4"
    assert set(levels(text, "late-change")) == set(told)


@pytest.mark.parametrize(
    ("on_the_way", "walks"),
    [
        ("E2:4 | D2:4", True),  # from F over E to D, and the chord waits
        ("E2:4 | F2:4", False),  # back where it came from
        ("G2:4 | D2:4", False),
    ],
)
def test_a_step_on_the_way_from_root_to_root(on_the_way: str, walks: bool) -> None:
    """E under F: F, F/E, Dm. Elsewhere the same note is told aloud."""
    keys = "keys | F3+A3+C4:4 | F3+A3+C4:4 | D3+F3+A3:4 | D3+F3+A3:4 |*4\n"
    plain = "F2:4 | F2:4 | D2:4 | D2:4"
    sub = f"sub | {plain} | F2:4 | {on_the_way} | D2:4 || {plain} |*2"
    text = f"tempo 100\nkey D minor\n{keys}{sub}"
    assert any(read(text, "walks_between_roots")) is walks
    assert levels(text, "off-root") in ([["note"]] if walks else [["warning"], ["error"]])


def test_a_tone_that_goes_on_from_its_root() -> None:
    """F is struck on where the chord has gone to A minor; the A after it is no such tone."""
    keys = "keys | F3+A3+C4:2 A3+C4+E4:2 |*4\n"
    text = f"tempo 100\n{keys}sub | F2:.5 F2:.5 F2:.5 F2:.5 F2:.5 A2:1.5 |*4"
    assert read(text, "goes_on_from_root")[:6] == [False] * 4 + [True, False]


@pytest.mark.parametrize(
    ("run", "told"),
    [
        ("D2:.0625 A2:.0625 D3:.0625 A2:.0625", False),  # 27 ms from step to step at 140
        ("D2:.0625 .:.1875", True),
    ],
)
def test_a_run_does_not_flam(run: str, told: bool) -> None:
    kick = "kick | .:.0625 C2:3.9375 | C2:4 |*4\n"
    text = f"tempo 140\nkeys | D3+F3+A3:4 |*8\n{kick}sub | {run} D2:3 .:.75 | D2:3.5 .:.5 |*4"
    gaps = read(text, "kick_gap")
    assert any(10 < float(gap) < 40 for gap in gaps) is told  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("low", "told"),
    [
        ("A1:1 E2:3", []),  # root and fifth over a held root
        ("A1:1 D2:3", ["warning"]),  # a fourth
        ("E2:4", ["warning"]),  # the two never meet
    ],
)
def test_a_root_held_under_its_fifth(low: str, told: list[str]) -> None:
    rest = "F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
    first = f"low-bass | {low} | {rest} || A1:4 | {rest} |*3\n"
    text = f"{KEYS}{first}mid-bass | A1:4 | {rest} |*4"
    assert levels(text, "two-basses") == told


BEAT = "C2 D2 C2 D2"
ROLL = "C2 D2 C2 D2:1/4x4"
FAST = "C2 D2 C2 D2:1/6@60-110x6"
BUSY = "C2:1/4x3 D2:1/4 C2:1/4x3 D2:1/4 C2:1/4x3 D2:1/4 C2:1/4x3 D2:1/4"


def drummed(bars: dict[int, str], beat: str = BEAT) -> str:
    line = " | ".join(bars.get(bar, beat) for bar in range(1, 17))
    sub = "A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5"
    marked = "tempo 140\nmarker 1 Verse\nmarker 9 Hook\n"
    return f"{marked}{KEYS.removeprefix('tempo 140')}sub | {sub} |*4\ndrums | {line} |\n"


def test_in_a_beat_that_runs_in_its_steps_a_roll_is_only_noted() -> None:
    alone, busy = drummed({3: ROLL}), drummed({3: BUSY[:-6] + "D2:1/4x4"}, BUSY)
    assert levels(alone, "fill-off-phrase") == ["warning"]
    (share,) = read(alone, "busy_around", "fill")
    assert share == pytest.approx(7 / 32, abs=0.07)  # of 16 steps on either side three or four
    assert all(float(share) > 0.9 for share in read(busy, "busy_around", "fill"))  # type: ignore[arg-type]
    assert set(levels(busy, "fill-off-phrase")) <= {"note"}


def test_in_every_other_bar_a_roll_is_noted_once() -> None:
    text = drummed({5: FAST, 7: FAST})
    assert read(text, "bar_beside_has_it", "fill") == [False, False]
    assert read(text, "second_bar_has_it", "fill") == [True, True]
    assert levels(text, "fill-off-phrase") == ["note"]
