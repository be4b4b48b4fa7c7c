"""What does the page's script know of one song? Its roll, its sounds, and what each fix changes."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np

from basslint.audition.difference import (
    Difference,
    Stretch,
    chart_of,
    difference,
    differences,
    stretch_of,
)
from basslint.audition.embedded import Carried, carried
from basslint.audition.guide import USUAL_OCTAVE, held_roots
from basslint.audition.questions import Question, landings_to_judge, roots_to_guess
from basslint.audition.sounds import GUESSED_T60_S, ROOTS_UP
from basslint.audition.tones import bass_tones
from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport, Finding
from basslint.mending.account import Choice
from basslint.mending.bare import bare_song
from basslint.mending.locate import events_of
from basslint.mending.offer import first_round
from basslint.mending.patch import plans_of
from basslint.readings.kicks import kick_ticks
from basslint.report.drawing.focus import focus_on, of_kick
from basslint.report.drawing.roll import roll_data, tones_data
from basslint.report.grouping import Group
from basslint.song.arrangement import Song
from basslint.util.records import record

MOST_QUESTIONS = 200  # of one kind: more are not asked in a visit


@record
class SongData:
    """``text``: JSON of the song that is safe inside an element; ``heard``: of each group, the
    stretch that is listened to, and whether written and mended can be compared there; ``mended``:
    the sets of fixes ("safe", "ear") with which the song can be heard and taken away, and how many
    findings each mends. ``carried``: sounds of files that the page plays it with."""

    text: str
    heard: tuple[tuple[Stretch, bool], ...]
    mended: tuple[tuple[str, int], ...]
    carried: Carried


def song_data(
    file: FileReport,
    chart: Chart,
    groups: Sequence[Group],
    ids: Sequence[str],
    middle_c: int,
    nudges: Sequence[dict[str, Any] | None] = (),
) -> SongData:
    """All that the script draws, plays, mends and asks of a song. ``ids``: anchors of the groups;
    ``nudges``: of each what moves of its note change, see `nudge_data`."""
    tones = bass_tones(chart, 0, int(chart.song.grid.start[-1]))
    firsts = [g.first for g in groups]
    changed = differences(chart, tones, firsts)
    heard = [stretch_of(chart, f) for f in firsts]
    row_of = {id(tone): row for row, tone in enumerate(tones)}
    data = roll_data(chart, tones, middle_c)
    data["decay"] = chart.facts.decay_s or GUESSED_T60_S
    data["roots"] = [r[:3] for r in held_roots(chart, USUAL_OCTAVE + ROOTS_UP)]
    own = carried(chart)
    data["sampled"] = _sampled(own)
    data["findings"] = [
        {
            "id": ident,
            **marks_of(chart, group),
            "span": (stretch.start, stretch.end),
            "change": change_of(chart, row_of, change) if change else None,
            **(_beside_the_kick(chart, group.first) if of_kick(group.first) else {}),
        }
        for ident, group, stretch, change in zip(ids, groups, heard, changed, strict=True)
    ]
    for entry, nudge in zip(data["findings"], nudges, strict=False):
        entry.update({} if nudge is None else {"nudge": nudge})
    data["asked"] = {
        "roots": _questions(roots_to_guess(chart)),
        "landings": _questions(landings_to_judge(chart)),
    }
    offers = _offers(file, firsts)
    for offer in offers:
        change = difference(chart, tones, chart_of(offer.song, chart))
        data[offer.name] = change_of(chart, row_of, change)
    plans = [
        _plan(chart, group) if change else None
        for group, change in zip(groups, changed, strict=True)
    ]
    for entry, plan, rivals in zip(data["findings"], plans, _rivals(chart, groups), strict=True):
        entry["plan"], entry["rivals"] = plan, rivals
    data["files"] = _files(chart, offers, any(plans))
    return SongData(
        json_within(data),
        tuple(zip(heard, (bool(c) for c in changed), strict=True)),
        tuple((o.name, len(o.findings)) for o in offers),
        own,
    )


def _offers(file: FileReport, firsts: Sequence[Finding]) -> list[_Offer]:
    """The mended songs that the page hands out: by the safe fixes, and by all."""
    offers = [
        _Offer(name, *first_round(file, choice))
        for name, choice, kind in (
            ("safe", Choice(), "safe"),
            ("ear", Choice(by_ear=True), "by-ear"),
        )
        if _any_fix(firsts, kind)
    ]
    return [offer for offer in offers if offer.findings]


def _beside_the_kick(chart: Chart, finding: Finding) -> dict[str, Any]:
    """What is drawn where the matter is how far a note is from a kick: ``near``, a beat to either
    side, from near enough to see them apart, and the ticks of the ``kicks`` in it."""
    tick, beat = finding.where.tick, chart.song.division
    start, end = max(tick - beat, 0), min(tick + beat, int(chart.song.grid.start[-1]))
    kicks = kick_ticks(chart)
    return {"near": (start, end), "kicks": kicks[(kicks >= start) & (kicks < end)].tolist()}


def _sampled(own: Carried) -> dict[str, Any]:
    """How the sounds of files are played: ``rates`` of the elements that hold them; ``oneShot``:
    row, Hz; ``loops``: row, second at which a turn begins, speed, and its turns in ticks."""
    return {
        "rates": [rate for _, rate in own.sounds],
        "oneShot": own.one_shot,
        "loops": [
            (row, turns.begins_s, turns.speed, np.stack((turns.start, turns.end), axis=1).tolist())
            for row, turns in own.loops
        ],
    }


def _questions(questions: Sequence[Question]) -> list[tuple[int, int, int, float, int]]:
    """Questions as the script reads them; of very many some, evenly spread."""
    step = -(-len(questions) // MOST_QUESTIONS)
    return [
        (q.start, q.end, q.answer, round(q.certainty, 3), q.land)
        for q in questions[:: max(step, 1)]
    ]


@record
class _Offer:
    """A set of fixes that the page offers: ``findings`` that they mend, the song with them done."""

    name: str
    findings: tuple[Finding, ...]
    song: Song


def _files(chart: Chart, offers: Sequence[_Offer], planned: bool) -> dict[str, Any]:
    """The file and its mended copies, packed together, since they hardly differ: ``packed`` in base
    64 of RFC 1950's format, ``sizes`` of the files in bytes, in order."""
    files = [(o.name, o.song.scan.data) for o in offers]
    if planned:
        files.append(("written", bare_song(chart.song).scan.data))
    whole = zlib.compress(b"".join(data for _, data in files), 9)
    return {
        "sizes": [(name, len(data)) for name, data in files],
        "packed": base64.b64encode(whole).decode("ascii") if files else "",
    }


def _plan(chart: Chart, group: Group) -> dict[int, Any] | None:
    """What the fixes of a group do to the events of each track; None where they cannot be done."""
    try:
        plans = plans_of(bare_song(chart.song), _edits(group))
    except MendError:
        return None
    return {
        track: (
            {row: list(body) for row, body in plan.replaced.items()},
            sorted(plan.taken),
            [(new.tick, new.order, new.status, list(new.body)) for new in plan.put],
        )
        for track, plan in plans.items()
    }


def _edits(group: Group) -> list[Edit]:
    """The edits of all fixes of a group, each once."""
    fixes = (f.fix for f in group.findings if f.fix is not None and f.waived is None)
    return list(dict.fromkeys(edit for fix in fixes for edit in fix.edits))


def _rivals(chart: Chart, groups: Sequence[Group]) -> list[list[int]]:
    """For each group, the groups whose fixes touch an event that its own fixes touch."""
    song = bare_song(chart.song)
    users: dict[object, list[int]] = {}
    for n, group in enumerate(groups):
        try:
            events = events_of(song, _edits(group))
        except MendError:
            continue
        for event in events:
            users.setdefault(event, []).append(n)
    against: list[set[int]] = [set() for _ in groups]
    for sharing in users.values():
        for n in sharing:
            against[n].update(sharing)
    return [sorted(those - {n}) for n, those in enumerate(against)]


def json_within(data: Any) -> str:
    """JSON that cannot end the element it stands in, nor begin another."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=True)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _any_fix(findings: Sequence[Finding], kind: str) -> bool:
    return any(f.fix is not None and f.fix.kind == kind and f.waived is None for f in findings)


def marks_of(chart: Chart, group: Group) -> dict[str, Any]:
    """Where the roll shows a group: places (tick, end tick), rows of the notes at fault, notes as
    they would stand (start, end, pitch), and the corners of a mended bend (tick, pitch)."""
    rows: dict[int, None] = {}
    mended: dict[tuple[int, int, int], None] = {}
    curve: list[tuple[int, float]] = []
    for finding in group.findings:
        focus = focus_on(chart, finding)
        if focus is None:
            continue
        rows.update(dict.fromkeys(sorted(focus.written)))
        mended.update(dict.fromkeys((b.start, b.end, b.pitch) for b in focus.mended))
        curve = curve or [(t, round(p, 3)) for t, p in focus.curve]
    first = group.first
    return {
        "level": first.level,
        "rule": first.rule,
        "part": first.part.number - 1 if first.part is not None else -1,
        "fix": first.fix.kind if first.fix is not None else None,
        "waived": first.waived is not None,
        "places": _places(group),
        "rows": list(rows),
        "mended": list(mended),
        "curve": curve,
    }


def _places(group: Group) -> list[tuple[int, int]]:
    """Ticks of the first place in each bar of which a group speaks."""
    first = {w.bar: w for f in reversed(group.findings) for w in reversed(f.places)}
    return [(first[bar].tick, first[bar].end_tick) for bar in sorted(first)]


def change_of(chart: Chart, row_of: dict[int, int], change: Difference) -> dict[str, Any]:
    """What a fix takes away and brings, as the script reads it. ``row_of``: rows of the tones as
    written, by their identity."""
    tempo = chart.song.tempo
    return {
        "lost": [row_of[id(t)] for t in change.lost],
        "gained": tones_data(tempo, change.gained),
        "silent": list(change.silent),
        "struck": list(change.struck),
    }
