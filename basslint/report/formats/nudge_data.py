"""What does a page know of the notes that can be nudged on it?

Each place to which a note can be moved is judged when the page is written; the page's script looks
it up. What a note is to chord and scale and how likely a slip is told of every place of up to a
dozen findings; which rules would speak there takes several times as long, so that is asked for the
gravest ones, as far as there is time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from basslint.audition.difference import around, difference
from basslint.audition.tones import bass_tones
from basslint.audition.voices import Tone
from basslint.hear.chart import Chart
from basslint.hear.slides.voice import hear_voice
from basslint.judging.results import FileReport
from basslint.mending.nudged import (
    COMBINED,
    KINDS,
    SEMITONES,
    STRAIGHT,
    Nudge,
    note_of,
    nudge_to,
    speaks_from,
)
from basslint.readings.bend_ranges import fitting_ranges
from basslint.report.drawing.roll import tones_data
from basslint.report.formats.page_song import change_of
from basslint.report.grouping import Group, finding_ids, grouped
from basslint.report.section import Sheet
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.records import record
from basslint.util.text import shell_word

MOST_FINDINGS = 12  # of one song
# Work for one song, counted in notes that are heard: a place of which all rules are asked costs as
# much as some 3,000 of them before its first note. A bar that the song lasts, silent or not, is
# counted as 27, more than it takes: the rest of a page takes longer, too, where bars are many
# (thousands of a sixteenth each fit into 3 kB). A slide of the bass is heard anew in each place, as
# four notes. Bends that would fit at another range are heard at every usual one, which
# makes a place two thirds dearer. Without the rules it is a third of that. All in all that is up to
# half a second on a calm machine, for most songs less.
MOST_WORK, PLACE_WORK, BAR_WORK, SLIDE_WORK, BENDS_WORK = 150_000, 3_000, 27, 4, 2_000
LIGHT = 0.3
_MOVED = ("bass-note", "slide")  # what a rule judges whose notes can be moved
_TURNED = tuple((s, 0) for s in SEMITONES)
_AS_WRITTEN = (0, 0)

Move = tuple[int, int]


@record
class Nudged:
    """``of``: for each group what the script reads of its note, None where it cannot be nudged;
    ``left_out``: how many could be and are not, for the bounds above or as it was not asked;
    ``asked``: places of those groups of which the page asks its server."""

    of: tuple[dict[str, Any] | None, ...]
    left_out: int
    asked: frozenset[int] = frozenset()


@record
class Moves:
    """The moves of one note: ``all``, and those of them of which the rules are asked."""

    all: tuple[Move, ...]
    judged: frozenset[Move]


def nudge_data(
    chart: Chart,
    groups: Sequence[Group],
    rules: Sequence[Rule],
    wanted: Literal["", "written", "asked"] = "written",
) -> Nudged:
    """The moves of the notes that findings are about, of the gravest ones where there are many, of
    none where they are not ``wanted`` or ``asked`` later; see `nudges_of` for what each has."""
    movable = _movable(groups, rules)
    if not wanted:
        return Nudged((None,) * len(groups), len(movable))
    asked = [
        (level, n, note, rule)
        for level, n, rule in movable
        if (note := note_of(chart, groups[n].first)) is not None
    ]
    if wanted == "asked":
        return Nudged((None,) * len(groups), 0, frozenset(n for _, n, *_ in asked))
    asked.sort(key=lambda a: a[:2])
    song = chart.song
    heard = len(song.notes) + BAR_WORK * song.grid.bars + SLIDE_WORK * len(chart.slides)
    if fitting_ranges(chart):
        heard += BENDS_WORK
    moves = within_bounds(len(asked), heard)
    of: list[dict[str, Any] | None] = [None] * len(groups)
    tones = bass_tones(chart, 0, int(song.grid.start[-1])) if moves else []
    for (_, n, note, rule), those in zip(asked, moves, strict=False):
        of[n] = nudges_of(chart, tones, note, rule, rules, those)
    return Nudged(tuple(of), len(asked) - len(moves))


def nudges_asked(
    report: FileReport, rules: Sequence[Rule], song: str, finding: str
) -> dict[str, Any] | None:
    """All moves of the note of a finding, called by its anchor and that of its song, all rules
    asked; None where it is not there, or about no note that can be moved."""
    groups = grouped(report.findings)
    named = dict(zip(finding_ids(song, groups), groups, strict=True))
    chart, group = report.chart, named.get(finding)
    if chart is None or group is None or (note := note_of(chart, group.first)) is None:
        return None
    movable = _movable((group,), rules)
    if not movable:
        return None
    tones = bass_tones(chart, 0, int(chart.song.grid.start[-1]))
    whole = (*STRAIGHT, *COMBINED)
    return nudges_of(chart, tones, note, movable[0][2], rules, Moves(whole, frozenset(whole)))


def _movable(groups: Sequence[Group], rules: Sequence[Rule]) -> list[tuple[int, int, Rule]]:
    """(Level, place among the groups, rule) of the findings whose notes can be moved."""
    by_name = {rule.name: rule for rule in rules}
    return [
        (LEVELS.index(group.first.level), n, by_name[group.first.rule])
        for n, group in enumerate(groups)
        if group.first.waived is None
        and group.first.rule in by_name
        and by_name[group.first.rule].judges in _MOVED
    ]


def nudges_of(
    chart: Chart,
    tones: Sequence[Tone],
    note: int,
    rule: Rule,
    rules: Sequence[Rule],
    moves: Moves,
) -> dict[str, Any]:
    """The moves of one note as the script reads them. ``tones``: all tones of the bass as written.

    ``row`` of the note; ``from``: the chance of a slip from which its rule speaks (null where it
    goes by none); ``said``: what is said in any place, as "level name"; ``tone``: row of the tone
    that is the note alone, −1 where it is none; ``to``: rows of (semitones, sixteenths, what it is
    as an index into `KINDS`, chance of a slip, indexes into ``said`` or null where no rule was
    asked, tones of the bass that are gone, tones that come). Where the last two are wanting, the
    note's own tone is moved.
    """
    notes, said = chart.song.notes, dict[str, int]()
    near = around(chart, int(notes.start[note]), int(notes.end[note]))
    row_of, tones = _sounding_in(chart, near, tones)
    own = -1  # known once a first move has shown which tone it is
    alone = _stands_alone(chart, note)
    rows: list[tuple[Any, ...]] = []
    for move in moves.all:
        nudge = nudge_to(chart, note, *move, rules if move in moves.judged else None)
        if nudge is None:
            continue
        row: tuple[Any, ...] = (*move, *_place_row(nudge, said))
        if own < 0 or move[1]:
            change = difference(chart, tones, nudge.chart, [near], False)  # of the bass alone
            changed = change_of(chart, row_of, change)
            if alone and _is_own(tones_data(chart.song.tempo, change.lost), changed, move):
                own = changed["lost"][0]
            else:
                row = (*row, changed["lost"], changed["gained"])
        rows.append(row)
    return {"row": note, "from": speaks_from(rule), "said": list(said), "tone": own, "to": rows}


def _place_row(nudge: Nudge, said: dict[str, int]) -> tuple[int, float | None, list[int] | None]:
    """What a note is in a place, the chance of a slip, and what is said, added to ``said``."""
    spoken = None
    if nudge.spoken is not None:
        words = [f"{level} {name}" for name, level in nudge.spoken]
        spoken = [said.setdefault(each, len(said)) for each in words]
    chance = None if math.isnan(nudge.chance) else round(nudge.chance, 3)
    return KINDS.index(nudge.kind), chance, spoken


def _sounding_in(
    chart: Chart, stretch: tuple[int, int], tones: Sequence[Tone]
) -> tuple[dict[int, int], list[Tone]]:
    """The tones that sound in a stretch of ticks, and the row of each by its identity."""
    start_s, end_s = (chart.song.tempo.seconds(tick) for tick in stretch)
    rows = [r for r, tone in enumerate(tones) if tone.start < end_s and tone.end > start_s]
    return {id(tones[row]): row for row in rows}, [tones[row] for row in rows]


def _is_own(lost: Sequence[list[Any]], changed: dict[str, Any], move: Move) -> bool:
    """Is what a move changes one tone, which is only turned higher or lower by it?"""
    if move[1] or not len(lost) == len(changed["gained"]) == 1:
        return False
    *head, pitch = lost[0]
    raised = [p + move[0] for p in pitch] if isinstance(pitch, list) else pitch + move[0]
    return bool(changed["gained"][0] == [*head, raised])


def _stands_alone(chart: Chart, note: int) -> bool:
    """Is no other note of its part struck while it sounds, so that its tone is its own at any
    pitch? Where controllers make notes glide, neither may one begin or end it."""
    notes = chart.song.notes
    part, start, end = int(notes.part[note]), int(notes.start[note]), int(notes.end[note])
    voice = hear_voice(chart.song, part)
    if voice.switched or (voice.glides_from >= 0).any():
        start, end = start - 1, end + 1
    near = (notes.part == part) & (notes.start < end) & (notes.end > start)
    return int(near.sum()) == 1


def within_bounds(findings: int, heard: int) -> list[Moves]:
    """The moves that are looked at of each finding's note, the gravest first, for as many of them
    as there is time for, where each place has as much to hear as ``heard`` notes.

    Semitones alone come first, for all findings; then rules are asked, of semitones alone and of
    sixteenths alone, and at last of what combines them, for the gravest ones.
    """
    left = MOST_WORK / (PLACE_WORK + heard)
    turned = LIGHT * (len(_TURNED) - 1)  # as written is known
    straight = len(STRAIGHT) - 1
    most = min(findings, MOST_FINDINGS, int(left / turned))
    left -= most * turned
    judged = min(most, int(left / (straight - turned)))
    left -= judged * (straight - turned)
    wide = min(judged, int(left / len(COMBINED)))
    whole, all_ = (*STRAIGHT, *COMBINED), frozenset((*STRAIGHT, *COMBINED))
    light = Moves(_TURNED, frozenset((_AS_WRITTEN,)))
    return [
        *(Moves(whole, all_) for _ in range(wide)),
        *(Moves(STRAIGHT, all_) for _ in range(wide, judged)),
        *(light for _ in range(judged, most)),
    ]


def not_nudged(nudged: Nudged, path: str, sheet: Sheet) -> str:
    """How the notes are moved that cannot be moved on this page; empty where all can."""
    if not nudged.left_out or nudged.asked:
        return ""
    page = f"basslint check {shell_word(path)}"
    if not sheet.nudged:
        return (
            "To move a note by hand and hear it, write a page of this song alone: "
            f"{page} --format html --output PAGE.html"
        )
    left = "one is left out" if nudged.left_out == 1 else f"{nudged.left_out} are left out"
    return (
        f"Notes can be moved by hand on the gravest findings; {left}, "
        "since each place takes its time. For those of one rule write a page of its own: "
        f"{page} --only RULE --format html --output PAGE.html"
    )
