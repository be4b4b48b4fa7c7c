"""Which part is the bass, which hold the harmony, which are drums, which is the melody?

Stated facts first, then names and programs where they tell, then texture. "No bass" is an answer:
a bass is claimed only where it is likelier than not.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.errors import UsageError
from basslint.hear.parts.basses import CLAIM, LAYER, MIDDLE, bass_lines, carrier, rival_of
from basslint.hear.parts.names import Role
from basslint.hear.parts.role_scores import (
    LOW,
    Labels,
    bass_likelihood,
    drums_likelihood,
    harmony_likelihood,
    may_be_bass,
    read_labels,
)
from basslint.hear.parts.standing import root_support
from basslint.hear.parts.texture import Floats, Texture, hear_texture, lowest_shares
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Notes, Song
from basslint.theory.general_midi import DRUM_CHANNEL
from basslint.util.columns import found_in, kinds_of, rows_where
from basslint.util.records import record

_DOUBTFUL = 0.15  # below it a line that could be a bass is taken for a melody
_HALF_THE_SONG = 0.5  # of its time: harmony parts that play less leave roots to the melody, too
# The channels of one MPE track (RP-053): at least three, nine and more even with that of drums;
# the next note is mostly on another channel, and all lie in one octave.
_FEWEST_MEMBERS, _SURELY_MEMBERS = 3, 8
_IN_TURN, _ONE_REGISTER = 0.8, 12.0
# Words of the evidence: one note at a time, several at once, mostly the lowest.
_SINGLE, _AT_ONCE, _LOWEST = 0.1, 0.3, 0.75
_CHORDS = 0.5  # a line with more of its time in chords is none either


@record(eq=False, kw_only=True)
class Parts:
    """Roles of a song's parts, every column of length p in the order of ``Song.parts``.

    ``role``: bass, harmony, melody, drums or other; ``certainty`` float64 0–1 of the role;
    ``stated`` bool: named by the user; ``evidence``: why, in a few words; ``group`` int64: parts of
    one number are one instrument (the channels of one MPE track). ``bass``, ``melody``, ``drums``:
    part indexes, the bass that carries the line first. ``rival``: a part that plays other notes and
    is as likely the bass as that one; −1 for none, or where the bass is stated. ``harmony``: the
    parts that the hearing of roots listens to: the harmony parts, with the melody where they hold
    less than half the song.
    """

    role: tuple[Role, ...]
    certainty: Floats
    stated: NDArray[np.bool_]
    evidence: tuple[str, ...]
    group: NDArray[np.int64]
    bass: tuple[int, ...]
    harmony: tuple[int, ...]
    melody: tuple[int, ...]
    drums: tuple[int, ...]
    rival: int


def hear_parts(
    song: Song, bass: Sequence[int] | None = None, harmony: Sequence[int] | None = None
) -> Parts:
    """Give every part its role. ``bass`` and ``harmony`` state parts by index from 0.

    What is stated is taken as it is: no other part joins a stated bass or a stated harmony. Raises
    `UsageError` where a stated part does not exist or is stated as both. A song without notes has
    no parts and gives empty columns.
    """
    _check_stated(song, bass, harmony)
    count = len(song.parts)
    if count == 0:
        return _no_parts()
    group = _instruments(song)
    lines = int(group.max()) + 1
    line = group[song.notes.part]
    notes = end_stuck_notes(song.notes, song.division)
    texture = hear_texture(notes, line, lines, song.division)
    labels = read_labels(song.parts, group, lines)
    drums = drums_likelihood(texture, labels)
    own, whole = lowest_shares(texture, drums < CLAIM)
    roles, certainty, lead, rival = _decide(
        notes, line, texture, labels, drums, whole, song.division
    )
    evidence = [_evidence(roles[k], k, texture, own, labels[k]) for k in range(lines)]

    role: list[Role] = [roles[k] for k in group]
    sure = certainty[group]
    why = [evidence[k] for k in group]
    stated = np.zeros(count, dtype=bool)
    for parts, name in ((bass, "bass"), (harmony, "harmony")):
        if parts is None:
            continue
        for part in range(count):
            if part in parts:
                role[part], why[part] = ("bass" if name == "bass" else "harmony"), "stated"
                sure[part], stated[part] = 1.0, True
            elif role[part] == name:
                role[part], why[part] = "other", f"not among the parts stated as {name}"
    found = {r: tuple(i for i in range(count) if role[i] == r) for r in ("melody", "drums")}
    basses = sorted((i for i in range(count) if role[i] == "bass"), key=lambda i: group[i] != lead)
    heard = tuple(i for i in range(count) if role[i] == "harmony")
    if texture.active[list({int(group[i]) for i in heard})].sum() < _HALF_THE_SONG:
        heard = tuple(i for i in range(count) if role[i] in ("harmony", "melody"))
    return Parts(
        role=tuple(role),
        certainty=sure,
        stated=stated,
        evidence=tuple(why),
        group=group,
        bass=tuple(bass) if bass is not None else tuple(basses),
        harmony=tuple(harmony) if harmony is not None else heard,
        melody=found["melody"],
        drums=found["drums"],
        rival=_part_of(rival, group, stated) if bass is None else -1,
    )


def _part_of(rival: int, group: NDArray[np.int64], stated: NDArray[np.bool_]) -> int:
    """The first part of the rival line; −1 for none, and where the user has stated what it is."""
    mine = rows_where(group == rival)
    return int(mine[0]) if len(mine) and not np.count_nonzero(stated[mine]) else -1


def _no_parts() -> Parts:
    none = np.zeros(0, dtype=np.int64)
    return Parts(
        role=(),
        certainty=np.zeros(0),
        stated=none.astype(bool),
        evidence=(),
        group=none,
        bass=(),
        harmony=(),
        melody=(),
        drums=(),
        rival=-1,
    )


def _check_stated(song: Song, bass: Sequence[int] | None, harmony: Sequence[int] | None) -> None:
    for part in (*(bass or ()), *(harmony or ())):
        if not 0 <= part < len(song.parts):
            raise UsageError(
                f"Part #{part + 1} was stated, but the song has {len(song.parts)} parts.",
                "List the parts with `basslint chart FILE`.",
            )
    both = sorted(set(bass or ()) & set(harmony or ()))
    if both:
        raise UsageError(
            f'Part #{both[0] + 1} ("{song.parts[both[0]].name}") is stated as bass and as harmony.',
            "State it as one of the two.",
        )


def _instruments(song: Song) -> NDArray[np.int64]:
    """Group the channels of one track that share one instrument, as MPE spreads its notes.

    Member channels (RP-053) hold one note at a time, take turns and play in one register; that
    tells them from the channels of a type-0 file, which are instruments of their own.
    """
    parts = song.parts
    tracks = np.array([p.track for p in parts])
    group = np.arange(len(parts), dtype=np.int64)
    alone = True
    for track in rows_where(np.bincount(tracks) >= _FEWEST_MEMBERS).tolist():
        members = rows_where(tracks == track)
        if len(members) <= _SURELY_MEMBERS:
            members = members[[parts[i].channel != DRUM_CHANNEL for i in members]]
        if len({(parts[i].program, parts[i].track_name) for i in members}) > 1:
            continue
        rows = rows_where(found_in(song.notes.part, members))
        notes = song.notes.take(rows)
        turns = notes.part[1:] != notes.part[:-1]
        means = np.bincount(notes.part, notes.pitch)[members] / np.bincount(notes.part)[members]
        by_part = np.argsort(notes.part, kind="stable")
        same = notes.part[by_part][1:] == notes.part[by_part][:-1]
        overlap = same & (notes.start[by_part][1:] < notes.end[by_part][:-1])
        in_turn = len(turns) > 0 and turns.mean() > _IN_TURN
        if in_turn and not np.count_nonzero(overlap) and np.ptp(means) < _ONE_REGISTER:
            group[members] = members[0]
            alone = False
    return group if alone else kinds_of(group)[1]


def _decide(
    notes: Notes,
    line: NDArray[np.int64],
    t: Texture,
    labels: list[Labels],
    drums: Floats,
    floor: Floats,
    division: int,
) -> tuple[list[Role], Floats, int, int]:
    """Role and certainty of each line; the one that carries the bass and its rival, −1 for none.

    ``drums`` [lines]: how likely each is drums; ``floor`` [lines]: share of the song in which none
    that is pitched is lower.
    """
    pitched = drums < CLAIM
    effects = np.array([x.name == "other" or (not x.name and x.program == "other") for x in labels])
    # General MIDI 1: channel 10 is percussion; and neither effects nor timpani are a bass
    able = pitched & ~effects & ~np.array([x.on_drum_channel for x in labels])
    asked = able & may_be_bass(t)
    support = root_support(notes, line, asked, pitched & ~asked, division)
    bass = np.where(able, (1.0 - drums) * bass_likelihood(t, labels, pitched, floor, support), 0.0)
    # a bass by name ("mid bass", "reese") is one, unless it plays what no bass plays
    named = able & np.array([x.name == "bass" for x in labels])
    named &= (t.mean < MIDDLE) & (t.voices < _CHORDS)
    bass = np.where(named, np.maximum(bass, CLAIM), bass)
    chords = harmony_likelihood(t, labels)
    called = np.array([x.name == "bass" or x.program == "bass" for x in labels])
    lead = carrier(notes, line, t, bass, called) if bass.max() >= CLAIM else -1
    # no name speaks against it
    may = able & np.array([x.name in (None, "bass") for x in labels])
    # nor, of a line as high as that of a cello, does its program
    may &= (t.mean < LOW) | np.array([x.program in (None, "bass") for x in labels])
    is_bass = bass_lines(notes, line, t, bass, may, named, lead)
    roles: list[Role] = []
    certainty = np.zeros(len(labels))
    for k in range(len(labels)):
        if not pitched[k]:
            roles.append("drums")
            certainty[k] = drums[k]
        elif is_bass[k]:
            roles.append("bass")
            certainty[k] = max(bass[k], bass[lead] * LAYER)
        elif effects[k] or (bass[k] >= _DOUBTFUL and t.mean[k] < LOW and t.voices[k] < _CHORDS):
            roles.append("other")
            certainty[k] = 1.0 - bass[k]
        else:
            roles.append("harmony" if chords[k] >= CLAIM else "melody")
            certainty[k] = (1.0 - bass[k]) * max(chords[k], 1.0 - chords[k])
    return roles, certainty, lead, rival_of(notes, line, bass, called, lead)


def _evidence(role: Role, k: int, t: Texture, lowest: Floats, labels: Labels) -> str:
    """Why line ``k`` has its role; ``lowest`` [lines]: of its own time, in which it is that."""
    reasons: list[str] = []
    if labels.name == role:
        reasons.append(f'named "{labels.word}"')
    elif labels.program == role:
        reasons.append("its program")
    if role == "drums":
        if labels.on_drum_channel:
            reasons.append("on the drum channel")
        if not reasons:
            reasons.append("plays keys of a drum set")
    elif role == "bass":
        low = "lowest line" if lowest[k] >= _LOWEST else "low line"
        single = t.voices[k] < _SINGLE
        reasons.append(f"{low}, {'one note at a time' if single else 'mostly single'}")
    elif role == "harmony":
        if max(t.voices[k], t.struck[k]) >= _AT_ONCE:
            reasons.append("several notes at once")
        elif not reasons:
            reasons.append("broken chords")
    elif role == "melody":
        reasons.append("one note at a time, above the bass")
    elif not reasons:
        reasons.append("low line, but too uncertain to call it the bass")
    return "; ".join(reasons)
