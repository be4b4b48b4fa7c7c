"""What was heard in a loop, as text: tempo, tuning and key, roots bar by bar, glides."""

from __future__ import annotations

from typing import TextIO

from basslint.audio.answers import loop_keys, loop_roots
from basslint.audio.loop import TICKS, HeardLoop
from basslint.audio.remarks import loop_remarks
from basslint.audio.tuning import certainty
from basslint.hear.harmony.sources import Roots
from basslint.hear.key.keys import Keys
from basslint.report.drawing.canvas import Segment
from basslint.report.drawing.marks import chord_name, counted, number, percent
from basslint.report.formats.loop_json import names_at
from basslint.report.formats.loop_rows import Span, glides, spans
from basslint.report.paper import Paper, kept
from basslint.theory.chords import QUALITIES
from basslint.theory.names import key_name

_LABEL = 9  # columns before a fact
_IN_TUNE = 0.5  # cents: no more than rounding


def print_loop(heard: HeardLoop, stream: TextIO, width: int | None = None) -> None:
    """Write a heard loop as text; ``width`` overrides the terminal's."""
    paper = Paper(stream, width=width)
    sound = heard.sound
    paper.line(Segment(sound.path, "heading"))
    channels = {1: "mono", 2: "stereo"}.get(sound.channels, f"{sound.channels} channels")
    about = f"{number(sound.duration_s)} s, {channels}, {sound.rate:,} Hz"
    paper.paragraph([Segment(about, "quiet")], indent=2, hanging=2)
    paper.blank()
    roots = loop_roots(heard)
    keys = loop_keys(heard, roots)
    any_root = bool((roots.root >= 0).any())
    _fact(paper, "bars", _bars(heard))
    _fact(paper, "tuning", _tuning(heard) if heard.tonality.notes.mean() > 0.0 else "none heard")
    for row in range(len(keys)) if any_root else ():
        _fact(paper, "key", _key(heard, keys, row))
    if not any_root:
        _fact(paper, "key", "none heard")
    for remark in loop_remarks(heard):
        _fact(paper, "but", remark)
    paper.blank()
    paper.line(Segment("roots", "focus"))
    _print_roots(paper, heard, roots, keys)
    if len(heard.glides):
        paper.blank()
        paper.line(Segment("glides", "focus"))
        for glide in glides(heard):
            tick = round((glide.span.start_beat - 1.0) * TICKS * 4 / heard.bars.meter[1])
            spelled = names_at(keys, tick)
            names = [spelled[p] if p is not None else "?" for p in (glide.from_pc, glide.to_pc)]
            time = f"{number(glide.span.start_s)} to {number(glide.span.end_s)} s"
            words = f"{_place(heard, [glide.span])}, {time}  {names[0]} moves to {names[1]}"
            paper.paragraph([Segment(words, "plain")], indent=2, hanging=4)


def _fact(paper: Paper, name: str, text: str) -> None:
    lead = f"{name:<{_LABEL - 2}}"
    paper.paragraph([Segment(lead, "focus"), Segment(text, "plain")], indent=2, hanging=_LABEL)


def _bars(heard: HeardLoop) -> str:
    bars = heard.bars
    meter = f"{bars.meter[0]}/{bars.meter[1]}"
    text = f"{bars.bars} of {meter} at {number(bars.bpm, 1)} bpm"
    if bars.begins_s > 0.0:
        text += f", the first at {bars.begins_s * 1000:.0f} ms"
    by = [
        name
        for name, heard_here in (
            ("tempo", bars.tempo_heard),
            ("length", bars.bars_heard),
            ("beginning", bars.begins_heard),
        )
        if heard_here
    ]
    return f"{text} ({', '.join(by)} as heard)" if by else text


def _tuning(heard: HeardLoop) -> str:
    cents = heard.tuning.cents
    sure = _sure(certainty(heard.tuning))
    if abs(cents) < _IN_TUNE:
        return f"A = 440 Hz, {sure}"
    off = counted(round(abs(cents)), "cent")
    return f"{off} {'sharp' if cents > 0 else 'flat'} of A = 440 Hz, {sure}"


def _key(heard: HeardLoop, keys: Keys, row: int) -> str:
    tonic, mode = int(keys.tonic[row]), keys.mode[row]
    text = f"{key_name(tonic, mode)}, {_sure(float(keys.certainty[row]))}"
    if len(keys) == 1:
        return text
    return f"{_place(heard, spans(heard, int(keys.start[row]), int(keys.end[row])))}  {text}"


def _print_roots(paper: Paper, heard: HeardLoop, roots: Roots, keys: Keys) -> None:
    rows = []
    for row, root in enumerate(roots.root.tolist()):
        start = int(roots.start[row])
        place = _place(heard, spans(heard, start, int(roots.end[row])))
        name = chord_name(root, QUALITIES[int(roots.quality[row])], names_at(keys, start))
        rows.append((place, name, _sure(float(roots.certainty[row])) if root >= 0 else ""))
    places, names = (max(len(row[column]) for row in rows) + 2 for column in (0, 1))
    for place, name, sure in rows:
        words = [Segment(f"{place:<{places}}", "quiet")]
        words += [Segment(f"{name:<{names}}", "root"), Segment(sure, "plain")] if sure else []
        words += [] if sure else [Segment("not told", "plain")]
        paper.paragraph(words, indent=2, hanging=4)


def _sure(certainty: float) -> str:
    return kept(f"{percent(certainty)} sure")


def _place(heard: HeardLoop, parts: list[Span]) -> str:
    """``bar 3 beat 2, 1.5 beats``; parts that lie at both ends of the file follow in time."""
    beats = parts[0].start_beat - 1.0
    bar, beat = divmod(round(beats * 4) / 4, heard.bars.meter[0])
    long = parts[-1].end_beat - parts[0].start_beat
    word = "beat" if long == 1.0 else "beats"
    return f"bar {int(bar) + 1} beat {number(beat + 1)}, {number(long)} {word}"
