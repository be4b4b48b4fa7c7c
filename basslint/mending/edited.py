"""What do edits make of each note that they name?"""

from __future__ import annotations

from collections.abc import Sequence

from basslint.errors import MendError
from basslint.mending.locate import Located
from basslint.smf.rewrite import KEEP
from basslint.song.arrangement import NEVER, Song
from basslint.theory.names import pitch_name
from basslint.util.records import record


@record(frozen=False, kw_only=True)
class EditedNote:
    """A note while edits of it add up."""

    start: int
    end: int
    pitch: int
    velocity: int
    closed: bool  # has it, or gets it, a written end?


def edited_notes(song: Song, places: Sequence[Located]) -> dict[int, EditedNote | None]:
    """What the edited notes become, by row of song.notes; None where the note goes."""
    result: dict[int, EditedNote | None] = {}
    source = song.notes
    for place in places:
        edit, row = place.edit, place.note
        if row < 0:
            continue
        if row not in result:
            result[row] = EditedNote(
                start=int(source.start[row]),
                end=int(source.end[row]),
                pitch=int(source.pitch[row]),
                velocity=int(source.velocity[row]),
                closed=bool(source.off_row[row] != NEVER),
            )
        note = result[row]
        if note is None:
            continue
        if edit.do == "remove":
            result[row] = None
            continue
        if edit.after is None:
            raise MendError(f"The edit “{edit.do}” does not say what to change to.", KEEP)
        if edit.do == "pitch":
            note.pitch = edit.after
        elif edit.do == "velocity":
            note.velocity = edit.after
        elif edit.do == "start":
            note.start = edit.after
        elif edit.do == "end":
            note.end, note.closed = edit.after, True
        else:  # move: both ends by the same way
            by = edit.after - int(source.start[row])
            note.start += by
            note.end += by
    for row, note in result.items():
        if note is None:
            continue
        if not note.closed:  # it sounds until the song is over, wherever it starts
            note.end = max(note.end, note.start)
        was_empty = source.start[row] == source.end[row]
        if note.start < 0 or note.end < note.start or (note.end == note.start and not was_empty):
            raise MendError(
                f"{pitch_name(note.pitch)} would last from tick {note.start} to {note.end}.", KEEP
            )
        if not (0 <= note.pitch <= 127 and 1 <= note.velocity <= 127):
            raise MendError(f"MIDI has no note {note.pitch} of velocity {note.velocity}.", KEEP)
    return result
