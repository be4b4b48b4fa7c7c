"""Laws of the whole check: what must not matter does not matter.

Beats are the samples and drawn ones, with bass notes put wrong on purpose, so that there is
something to find. Only rules on absolute hertz may change their mind under transposition.

Register is evidence: the lowest note of a chord says less about its root, and a low line is less
surely the bass, the higher they lie. So a transposed finding may come to be not judged; it never
becomes another one.
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

import mido
import pytest
from bench.beats import make_beat
from hypothesis import given, settings
from hypothesis import strategies as st

import basslint
from basslint.checking.one_file import check_bytes
from basslint.rulebook.loader import read_book

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.mid"))
BOOK = read_book()
IN_HERTZ = {"too-low", "too-high", "roll-blurs", "octave-too-high"}  # or in register
# Register is evidence of the root, so a transposed chord may be a little more or less sure: what is
# graded by that may be an error in one key and a warning in another.
BY_CERTAINTY = {"off-root", "late-change"}
SETTINGS = basslint.Settings().with_facts(decay_s=1.2)
DRUMS = 9

Found = tuple[str, str, int, int, int]


@cache
def source(number: int) -> bytes:
    """A sample, or a drawn beat of up to 16 bars, with a few low notes put wrong."""
    if number < len(SAMPLES):
        midi = mido.MidiFile(file=io.BytesIO(SAMPLES[number].read_bytes()))
    else:
        midi = mido.MidiFile(file=io.BytesIO(make_beat(4_000 + number).data))
    rng = random.Random(number)
    for track in midi.tracks:
        wrong: dict[int, int] = {}
        for i, message in enumerate(track):
            if message.type not in ("note_on", "note_off") or message.channel == DRUMS:
                continue
            if message.type == "note_on" and message.velocity and message.note < 44:
                wrong[message.note] = message.note + (rng.random() < 0.05) * rng.choice((1, 2, 6))
            track[i] = message.copy(note=wrong.get(message.note, message.note))
    return written(midi)


def written(midi: mido.MidiFile) -> bytes:
    file = io.BytesIO()
    midi.save(file=file)
    return file.getvalue()


def found(data: bytes, scale: int = 1, shift: int = 0, keys: int = 0) -> set[Found]:
    """Findings, brought back to the ticks and pitches of the source."""
    report = check_bytes(data, "law.mid", SETTINGS, BOOK)
    assert report.problem is None and not report.faults
    return {
        (
            f.rule,
            f.level,
            (f.where.tick - shift) // scale,
            -1
            if f.pitch is None
            else f.pitch - keys * (f.part is not None and f.part.channel != 10),
            f.part.channel if f.part else 0,
        )
        for f in report.findings
        if f.part is not None
    }


def unjudged(data: bytes) -> list[tuple[str, int, int]]:
    """(rule, first tick, last tick) of what was not judged."""
    report = check_bytes(data, "law.mid", SETTINGS, BOOK)
    assert report.chart is not None
    start = report.chart.song.grid.start
    return [
        (u.rule, int(start[u.start_bar - 1]), int(start[u.end_bar - 1])) for u in report.unjudged
    ]


def each(data: bytes, change: Callable[[mido.Message], mido.Message]) -> bytes:
    midi = mido.MidiFile(file=io.BytesIO(data))
    for track in midi.tracks:
        track[:] = [change(m) for m in track]
    return written(midi)


numbers = st.integers(0, len(SAMPLES) + 11)
few = settings(max_examples=14, deadline=None)


def graded(finding: Found) -> Found:
    """A finding without its level, where that hangs on how sure root or key is (`BY_CERTAINTY`)."""
    rule, level, *place = finding
    return (rule, "" if rule in BY_CERTAINTY else level, *place)


@few
@given(numbers, st.integers(-4, 6).filter(bool))
def test_transposing_transposes_the_findings(number: int, keys: int) -> None:
    def move(message: mido.Message) -> mido.Message:
        pitched = message.type in ("note_on", "note_off") and message.channel != DRUMS
        return message.copy(note=message.note + keys) if pitched else message

    data = source(number)
    before = {graded(f) for f in found(data) if f[0] not in IN_HERTZ}
    moved = each(data, move)
    after = {graded(f) for f in found(moved, keys=keys) if f[0] not in IN_HERTZ}
    for only_here, blind in ((before - after, unjudged(moved)), (after - before, unjudged(data))):
        for rule, _, tick, *_ in only_here:
            assert any(rule == name and first <= tick < last for name, first, last in blind)


@few
@given(numbers, st.integers(1, 3))
def test_doubling_the_resolution_changes_nothing(number: int, power: int) -> None:
    data, factor = source(number), 2**power
    midi = mido.MidiFile(file=io.BytesIO(each(data, lambda m: m.copy(time=m.time * factor))))
    midi.ticks_per_beat *= factor
    assert found(written(midi), scale=factor) == found(data)


@few
@given(numbers, st.permutations(range(12)))
def test_the_order_of_parts_changes_nothing(number: int, order: list[int]) -> None:
    midi = mido.MidiFile(file=io.BytesIO(source(number)))
    head, parts = midi.tracks[0], midi.tracks[1:]
    midi.tracks[:] = [head, *(parts[i] for i in order if i < len(parts)), *parts[12:]]
    assert found(written(midi)) == found(source(number))


@few
@given(numbers)
def test_a_silent_part_changes_nothing(number: int) -> None:
    midi = mido.MidiFile(file=io.BytesIO(source(number)))
    midi.type = 1
    midi.tracks.append(
        mido.MidiTrack(
            [
                mido.MetaMessage("track_name", name="Bass (muted)"),
                mido.Message("program_change", channel=14, program=33),
                mido.Message("control_change", channel=14, control=7, value=0),
            ]
        )
    )
    assert found(written(midi)) == found(source(number))


@few
@given(numbers, st.integers(1, 2))
def test_a_delay_by_whole_phrases_shifts_the_findings(number: int, eights: int) -> None:
    midi = mido.MidiFile(file=io.BytesIO(source(number)))
    shift = eights * 8 * 4 * midi.ticks_per_beat
    for track in midi.tracks:
        for i, message in enumerate(track):
            if not message.is_meta or message.type in ("marker", "cue_marker"):
                track[i] = message.copy(time=message.time + shift)
                break
    # the silence ahead makes the key a little less sure, and what is graded by that with it
    later = {graded(f) for f in found(written(midi), shift=shift)}
    assert later == {graded(f) for f in found(source(number))}


@few
@given(numbers)
def test_one_track_says_the_same_as_many(number: int) -> None:
    midi = mido.MidiFile(file=io.BytesIO(source(number)))
    channels = [{m.channel for m in t if m.type == "note_on"} for t in midi.tracks]
    used = [c for some in channels for c in some]
    if len(used) != len(set(used)):  # two parts on one channel cannot be told apart on one track
        return
    for track in midi.tracks:  # one track has no room for the names of many; so neither says them
        for i, message in enumerate(track):
            if message.type == "track_name":
                track[i] = mido.MetaMessage("text", text="", time=message.time)
    one = mido.MidiFile(type=0, ticks_per_beat=midi.ticks_per_beat)
    one.tracks.append(mido.merge_tracks(midi.tracks))
    assert found(written(one)) == found(written(midi))


def test_there_is_something_to_find() -> None:
    assert sum(bool(found(source(n))) for n in range(len(SAMPLES) + 12)) > 12


if __name__ == "__main__":
    pytest.main([__file__, "-q"])
