"""What was heard in a loop as JSON, format "basslint-loop/1".

Its JSON Schema is ``schemas/loop.json``. Seconds from 0 at the beginning of the file; beats, units
of the meter's denominator, from 1 at the first bar line. What is not known is null.
"""

from __future__ import annotations

from basslint.audio.answers import loop_keys, loop_roots
from basslint.audio.loop import HeardLoop
from basslint.audio.remarks import loop_remarks
from basslint.audio.tuning import certainty
from basslint.hear.harmony.sources import Roots
from basslint.hear.key.keys import Keys
from basslint.report.formats.json_values import Json, posix, text
from basslint.report.formats.loop_rows import Span, glides, spans
from basslint.theory.chords import QUALITIES
from basslint.theory.names import SHARPS, spelling

_SECONDS, _BEATS, _CERTAINTY = 4, 4, 3  # decimals that are kept
_TONAL = 0.25  # mean weight of notes below which nothing is tuned


def loop_json(heard: HeardLoop) -> str:
    """A heard loop as JSON. The same loop gives the same bytes."""
    return text(loop_object(heard))


def loop_object(heard: HeardLoop) -> Json:
    """A heard loop as plain JSON values."""
    bars = heard.bars
    roots = loop_roots(heard)
    keys = loop_keys(heard, roots)
    tuned = float(heard.tonality.notes.mean()) >= _TONAL
    return {
        "schema": "basslint-loop/1",
        "file": posix(heard.sound.path),
        "duration_s": round(heard.sound.duration_s, _SECONDS),
        "bpm": round(bars.bpm, 3),
        "bars": bars.bars,
        "meter": list(bars.meter),
        "begins_s": round(bars.begins_s, _SECONDS),
        "tuning_cents": round(heard.tuning.cents, 1) if tuned else None,
        "tuning_certainty": round(certainty(heard.tuning), _CERTAINTY) if tuned else None,
        "keys": _keys(heard, keys) if (roots.root >= 0).any() else [],
        "roots": _roots(heard, roots, keys),
        "glides": [
            {
                "start_s": round(g.span.start_s, _SECONDS),
                "end_s": round(g.span.end_s, _SECONDS),
                "from_pc": g.from_pc,
                "to_pc": g.to_pc,
            }
            for g in glides(heard)
        ],
        "remarks": list(loop_remarks(heard)),
    }


def _seconds(span: Span) -> dict[str, float]:
    return {"start_s": round(span.start_s, _SECONDS), "end_s": round(span.end_s, _SECONDS)}


def _keys(heard: HeardLoop, keys: Keys) -> list[Json]:
    rows = []
    for row, tonic in enumerate(keys.tonic.tolist()):
        names = spelling(tonic, keys.mode[row])
        about = {
            "tonic": names[tonic],
            "tonic_pc": tonic,
            "mode": keys.mode[row],
            "scale_pcs": keys.rising(row),
            "certainty": round(float(keys.certainty[row]), _CERTAINTY),
        }
        ends = int(keys.start[row]), int(keys.end[row])
        rows += [{**_seconds(span), **about} for span in spans(heard, *ends)]
    return rows


def names_at(keys: Keys, tick: int) -> tuple[str, ...]:
    """How pitch classes are spelled at a tick of the loop."""
    for row, end in enumerate(keys.end.tolist()):
        if tick < end:
            return spelling(int(keys.tonic[row]), keys.mode[row])
    return SHARPS


def _roots(heard: HeardLoop, roots: Roots, keys: Keys) -> list[Json]:
    rows = []
    for row, root in enumerate(roots.root.tolist()):
        start = int(roots.start[row])
        has_root = root >= 0
        about = {
            "root": names_at(keys, start)[root] if has_root else None,
            "root_pc": root if has_root else None,
            "quality": QUALITIES[int(roots.quality[row])] if has_root else None,
            "certainty": round(float(roots.certainty[row]), _CERTAINTY),
        }
        for span in spans(heard, start, int(roots.end[row])):
            beats = {
                "start_beat": round(span.start_beat, _BEATS),
                "end_beat": round(span.end_beat, _BEATS),
            }
            rows.append({**_seconds(span), **beats, **about})
    return rows
