"""What was measured in a bass one-shot, as text with a small picture of its level."""

from __future__ import annotations

import json
import textwrap
from pathlib import PurePath
from typing import TextIO

import numpy as np

from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Cells, Row, Segment, labelled
from basslint.report.drawing.marks import number
from basslint.report.paper import Paper
from basslint.sound.one_shot import SoundReport
from basslint.sound.root_key import transpose
from basslint.theory.acoustics import STILL_HEARD_DB
from basslint.theory.names import pitch_name

_BOTTOM_DB, _ROWS = -60.0, 6  # ten decibels a row
_SWAY_CENTS = 4.0  # less of a vibrato is not worth a word
_LABEL = 9  # columns before the picture


def print_sound(
    sound: SoundReport, stream: TextIO, middle_c: int = 4, width: int | None = None
) -> None:
    """Write a measured sound as text; ``width`` overrides the terminal's."""
    paper = Paper(stream, middle_c, width)
    paper.line(Segment(sound.path, "heading"))
    channels = {1: "mono", 2: "stereo"}.get(sound.channels, f"{sound.channels} channels")
    about = (
        f"{number(sound.duration_s)} s, {channels}, {sound.sample_rate:,} Hz, "
        f"peak {number(sound.peak_db, 1)} dB" + (", clips" if sound.clipped else "")
    )
    paper.paragraph([Segment(about, "quiet")], indent=2, hanging=2)
    paper.blank()
    _fact(paper, "pitch", _pitch(sound, middle_c))
    if sound.root_key is not None:
        _fact(paper, "root", _root_key(sound, middle_c))
    if sound.hint is not None:
        _fact(paper, "name", _hint(sound))
    _fact(paper, "decay", _decay(sound))
    if sound.t60_s is not None:
        heard = sound.t60_s * STILL_HEARD_DB / _BOTTOM_DB
        _fact(paper, "slides", f"land within {milliseconds(heard)} of the hit to be heard "
              f"above {number(STILL_HEARD_DB)} dB")  # fmt: skip
    for remark in sound.remarks:
        _fact(paper, "but", remark)
    paper.blank()
    paper.drawing(_picture(sound, paper.look.width, paper.look.unicode), indent=2)
    _lines_to_paste(paper, sound, middle_c)


def _lines_to_paste(paper: Paper, sound: SoundReport, middle_c: int) -> None:
    """The settings that tell basslint of this sound, as they would stand in its file; none for a
    sound that would say nothing there."""
    if sound.note is None and sound.t60_s is None:
        remark = (
            "The bass cannot be judged by this sound. Give its one-shot alone, as long as it rings."
        )
        paper.blank()
        paper.paragraph([Segment(remark, "quiet")], indent=2, hanging=2)
        return
    path = json.dumps(PurePath(sound.path).as_posix(), ensure_ascii=False)
    lines = [("", "[facts]"), ("", f"sound = {path}")]
    if sound.note is not None and sound.cents_off is not None:
        own = pitch_name(sound.note, middle_c=middle_c)
        away = transpose(sound.pitch, sound.root_key)
        left = pitch_name(round(sound.root_key.key), middle_c=middle_c) if sound.root_key else "a C"
        fine = -round(sound.cents_off)
        tuned = ("to be in tune with A = 440, if the sampler has it too", f"cents = {fine}")
        if sound.settled_s is None:
            tuned = ("how far off it is is not sure: tune it by ear", "cents = 0")
        or_so = f"or {away:+d}, octaves aside, if it stays at {left}" if away else ""
        lines += [
            ("set it in the sampler too", f'root_key = "{own}"'),
            (or_so, "transpose = 0"),
            tuned,
        ]
    if sound.t60_s is not None:
        lines.append(("", f'decay = "{milliseconds(sound.t60_s).replace(" ", "")}"'))
    paper.blank()
    paper.paragraph([Segment("In basslint.toml, so that the bass is judged by it:", "quiet")],
                    indent=2, hanging=2)  # fmt: skip
    for remark, line in lines:  # none is broken but at a remark: what is pasted is to be TOML
        for part in textwrap.wrap(remark, paper.look.width - len("    # ")):
            paper.line(Segment(f"# {part}", "quiet"), indent=4)
        paper.line(Segment(line, "plain"), indent=4)


def _root_key(sound: SoundReport, middle_c: int) -> str:
    """What the file says of its root key, and what follows where its pitch is another."""
    assert sound.root_key is not None
    key = sound.root_key.key
    where = {"smpl": "its sampler chunk", "INST": "its instrument chunk"}[sound.root_key.source]
    fine = round(100 * (key - round(key)))
    between = f" {'+' if fine > 0 else '−'} {abs(fine)} cents" if fine else ""
    text = f"{pitch_name(round(key), middle_c=middle_c)}{between}, says {where}"
    if sound.root_key.default:
        text += " (which programs write unasked)"
    away = transpose(sound.pitch, sound.root_key)
    if away:
        count = f"{abs(away)} semitone{'s' if abs(away) > 1 else ''}"
        text += (
            f": played so, every note sounds {count} {'up' if away < 0 else 'down'}, octaves aside"
        )
    return text


def _hint(sound: SoundReport) -> str:
    assert sound.hint is not None
    text = f"“{sound.hint.text}” stands in the file's name, a hint only"
    if sound.note is None:
        return text
    agrees = sound.note % 12 == sound.hint.pitch_class
    return f"{text}: {'it agrees' if agrees else 'it sounds otherwise'}"


def milliseconds(seconds: float) -> str:
    """``640 ms``, three digits kept of what is longer than a second."""
    return f"{round(seconds * 1000)} ms"


def _fact(paper: Paper, name: str, text: str) -> None:
    lead = f"{name:<{_LABEL - 2}}"
    paper.paragraph([Segment(lead, "focus"), Segment(text, "plain")], indent=2, hanging=_LABEL)


def _pitch(sound: SoundReport, middle_c: int) -> str:
    if sound.pitch_hz is None or sound.note is None or sound.cents_off is None:
        return "none found"
    off, name = sound.cents_off, pitch_name(sound.note, middle_c=middle_c)
    side = "sharp" if off > 0 else "flat"
    tuned = f"{abs(off):.0f} cents {side}" if abs(off) >= 0.5 else "in tune"
    text = f"{sound.pitch_hz:.2f} Hz = {name}, {tuned}"
    if sound.settled_s is None:
        text = f"about {sound.pitch_hz:.1f} Hz = {name}, its cents not sure"
    if sound.sway_cents is not None and sound.sway_cents >= _SWAY_CENTS:
        text += f", swaying by {sound.sway_cents:.0f} cents either way"
    if sound.pitch_certainty is not None:
        text += f", {sound.pitch_certainty:.0%} sure of the note".replace("%", " %")
    if sound.settled_s is not None and sound.settled_s >= 0.03:
        text += f", settled after {milliseconds(sound.settled_s)}"
    return text


def _decay(sound: SoundReport) -> str:
    if sound.t60_s is None:
        return "none found"
    assert sound.fit_from_s is not None and sound.fit_to_s is not None
    assert sound.fit_from_db is not None and sound.fit_to_db is not None
    return (
        f"{milliseconds(sound.t60_s)} to fall by 60 dB, read between {sound.fit_from_db:.0f} dB "
        f"({milliseconds(sound.fit_from_s)}) and {sound.fit_to_db:.0f} dB "
        f"({milliseconds(sound.fit_to_s)}), straying {number(sound.fit_error_db or 0, 1)} dB"
    )


def _picture(sound: SoundReport, width: int, unicode: bool) -> list[Row]:
    """The level over time in eighths of a row, ten decibels a row, with the fitted stretch."""
    columns = max(min(width - _LABEL - 4, 64), 8)
    end = float(sound.time_s[-1])
    heard = np.flatnonzero(sound.level_db > _BOTTOM_DB)
    end = min(end, 1.05 * float(sound.time_s[heard[-1]]))  # the rest would be an empty picture
    at = (np.arange(columns) + 0.5) / columns * end
    level = np.interp(at, sound.time_s, sound.level_db)
    steps = marks.STEPS[0] if unicode else marks.STEPS[1]
    rows: list[Row] = []
    for row in range(_ROWS):
        floor = _BOTTOM_DB * (row + 1) / _ROWS
        share = np.clip((level - floor) / (-_BOTTOM_DB / _ROWS), 0.0, 1.0)
        cells = Cells(columns)
        for column, eighths in enumerate(np.rint(share * len(steps)).astype(int).tolist()):
            if eighths > 0:
                cells.put(column, steps[eighths - 1], "heard")
        label = f"{round(_BOTTOM_DB * row / _ROWS):>4} dB " if row % 2 == 0 else " " * 8
        rows.append(labelled(label, "ruler", cells))
    if sound.fit_from_s is not None and sound.fit_to_s is not None:
        cells = Cells(columns)
        mark = marks.PHRASE_BODY.sign if unicode else marks.PHRASE_BODY.plain
        first, last = (int(s / end * columns) for s in (sound.fit_from_s, sound.fit_to_s))
        cells.put(first, mark * max(last - first, 1), "phrase")
        rows.append(labelled("    fit ", "ruler", cells))
    cells = Cells(columns)
    cells.put(0, "0", "ruler")
    label = milliseconds(end)
    cells.put(columns - len(label), label, "ruler")
    rows.append(labelled(" " * 8, "ruler", cells))
    return rows
