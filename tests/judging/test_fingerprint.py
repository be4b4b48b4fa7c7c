"""Which findings are the same in another export: laws on single ones, shares on made-up beats."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from bench.beats import make_beat
from exports import voices, with_bars_in_front, with_division, with_parts_turned, written

from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes
from basslint.judging.fingerprint import numbered
from basslint.judging.results import Finding, PartRef, Where
from basslint.settings.model import Settings
from basslint.song.timing import bar_grid

SETTINGS = Settings().with_facts(decay_s=1.5)
BOOK = SETTINGS.choose(book_for(SETTINGS))
GRID = bar_grid(16 * 1920, [(0, 4, 4)], 480)

FINDING = Finding(
    rule="off-root",
    family="harmony",
    level="error",
    message="F#1 holds 2 beats under Em; the root is E.",
    part=PartRef(2, 1, 1, "Sub"),
    where=Where(tick=7680, end_tick=8640, bar=5, beat=1.0, time_s=6.9, end_time_s=7.7),
    readings=(),
    certainty=0.9,
    fix=None,
    pitch=30,
)


def at(finding: Finding, **where: object) -> Finding:
    return replace(finding, where=replace(finding.where, **where))


def mark(finding: Finding) -> str:
    return numbered([finding], GRID)[0].fingerprint


SAME = [
    at(FINDING, tick=9600, end_tick=10560, bar=6, time_s=8.6, end_time_s=9.4),
    at(FINDING, beat=1.01),  # played a little late
    at(FINDING, bar=4, beat=4.99),  # or early, in the bar before
    at(FINDING, end_tick=8630),
    replace(FINDING, message="F#1 holds 1.99 beats under Em; the root is E."),
    replace(FINDING, message="F#1 holds 1 beat under Em; the root is E."),
    replace(FINDING, part=PartRef(5, 4, 3, "Sub")),
    replace(FINDING, certainty=0.8, level="note"),
]
OTHER = [
    at(FINDING, beat=2.0),
    at(FINDING, beat=1.25),
    replace(FINDING, pitch=42, message="F#2 holds 2 beats under Em; the root is E."),
    replace(FINDING, message="F#1 holds 2 beats under Em; the root is D."),
    replace(FINDING, rule="late-change"),
    replace(FINDING, part=PartRef(2, 1, 1, "Keys")),
]


@pytest.mark.parametrize("other", SAME)
def test_where_and_how_long_exactly_does_not_count(other: Finding) -> None:
    assert mark(other) == mark(FINDING)


@pytest.mark.parametrize(("middle_c", "printed"), [(3, "F#0"), (4, "F#1"), (5, "F#2")])
def test_how_octaves_are_printed_does_not_count(middle_c: int, printed: str) -> None:
    named = replace(FINDING, message=FINDING.message.replace("F#1", printed))
    assert numbered([named], GRID, middle_c)[0].fingerprint == mark(FINDING)


@pytest.mark.parametrize("other", OTHER)
def test_what_is_sounded_counts(other: Finding) -> None:
    assert mark(other) != mark(FINDING)


def test_a_part_that_only_counts_the_tracks_has_no_name() -> None:
    nameless = [
        replace(FINDING, part=PartRef(n, n, 1, name))
        for n, name in ((1, "track 1"), (4, "Track 4"), (4, "track 4 ch 2"))
    ]
    assert len({mark(f) for f in nameless}) == 1


def test_copies_of_a_loop_are_kept_apart_in_order() -> None:
    copies = [at(FINDING, bar=bar, tick=1920 * bar) for bar in (1, 5, 9)]
    marks = [f.fingerprint for f in numbered(copies, GRID)]
    assert len(set(marks)) == 3
    assert [f.fingerprint for f in numbered(copies[:2], GRID)] == marks[:2]
    assert len({f.cause for f in numbered(copies, GRID)}) == 1


def spoiled(data: bytes, seed: int) -> bytes:
    """A beat with one low note in ten a semitone too high."""
    rng = random.Random(seed)
    file, tracks = voices(data)
    shifts: dict[tuple[int, int, int], list[int]] = {}
    for number, events in enumerate(tracks):
        for place, (tick, message) in enumerate(events):
            if message.type not in ("note_on", "note_off") or message.channel == 9:
                continue
            open_ = shifts.setdefault((number, message.channel, message.note), [])
            if message.type == "note_on" and message.velocity:
                open_.append(int(message.note < 48 and rng.random() < 0.1))
                by = open_[-1]
            else:
                by = open_.pop(0)
            events[place] = (tick, message.copy(note=message.note + by))
    return written(file.ticks_per_beat, file.type, tracks)


# Measured on these beats: 91 % for 96 ticks (notes at the edge of a least length fall to its other
# side), over 98 % for the others. What is missing is judged otherwise there, not marked otherwise.
@pytest.mark.parametrize(
    ("export", "share"),
    [
        (lambda data: with_division(data, 960), 0.99),
        (lambda data: with_division(data, 240), 0.95),
        (lambda data: with_division(data, 96), 0.88),
        (with_parts_turned, 0.99),
        (with_bars_in_front, 0.95),
    ],
)
def test_findings_of_made_up_beats_are_known_again(
    export: Callable[[bytes], bytes], share: float
) -> None:
    known = total = 0
    for seed in range(20):
        beat = make_beat(seed)
        data = spoiled(beat.data, seed)
        if voices(data)[0].type == 0 and export is with_parts_turned:
            continue  # one track: there is no order
        before, after = (
            {f.fingerprint for f in check_bytes(d, "x.mid", SETTINGS, BOOK).findings}
            for d in (data, export(data))
        )
        total += len(before)
        known += len(before & after)
    assert total > 30
    assert known >= share * total
