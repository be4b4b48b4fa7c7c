"""What does a fix do to the file? Edits as plain values, which mending turns into bytes."""

from __future__ import annotations

from typing import Literal

from basslint.util.records import record

Do = Literal["pitch", "start", "end", "move", "velocity", "bend", "insert", "remove"]
FixKind = Literal["safe", "by-ear"]


@record(kw_only=True)
class Edit:
    """One change to the file.

    ``track`` and ``channel`` (1–16) name the part, ``tick`` and ``end_tick`` the note (or, for a
    bend, the stretch of the wheel) that it touches, as written. What ``before`` and ``after`` mean
    follows from ``do``: "pitch" MIDI numbers; "start" and "end" the tick of that end of the note;
    "move" the start tick (both ends move by the difference); "velocity" 1–127; "bend" the wheel's
    14-bit value −8192..8191 at ``tick`` (an edit per event; ``before`` None adds one); "insert"
    ``after`` is the pitch of a new note from ``tick`` to ``end_tick`` (velocity in ``velocity``);
    "remove" takes the note ``before`` out. ``pitch`` names the note that is touched where
    ``before`` is not its pitch, so that two notes of one tick are told apart; ``nth`` counts from
    0, in file order, among notes that are alike in all of this.
    """

    do: Do
    track: int
    channel: int
    tick: int
    end_tick: int
    before: int | None
    after: int | None
    pitch: int | None = None
    velocity: int | None = None
    nth: int = 0


@record
class Fix:
    """A way to mend a finding: a ``safe`` one keeps what was meant, a ``by-ear`` one may not."""

    title: str
    kind: FixKind
    edits: tuple[Edit, ...]
