"""Which marks and words does every report share?

Defined once for the terminal, the chart and the page. A mark is a sign, its stand-in where the
output knows ASCII alone, and a word; a colour only repeats what sign and word have said.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.hear.harmony.sources import Roots, Source
    from basslint.rulebook.model import Level


@record
class Mark:
    """``sign`` and ``plain`` (its ASCII stand-in) take the same number of cells; ``word`` is what
    both mean; ``style`` is a key of `STYLES`."""

    sign: str
    plain: str
    word: str
    style: str

    def drawn(self, unicode: bool) -> str:
        """The sign, or its stand-in."""
        return self.sign if unicode else self.plain


# The graver, the fuller: a note head that is full, half full, empty.
LEVEL_MARKS: dict[Level, Mark] = {
    "error": Mark("●", "@", "error", "error"),
    "warning": Mark("◐", "%", "warning", "warning"),
    "note": Mark("○", "o", "note", "note"),
}

# Note heads again: a cross for what is off, a diamond for what would sound instead.
AS_WRITTEN = Mark("×", "x", "as written", "as-written")
AS_MENDED = Mark("◇", "+", "as mended", "as-mended")
WAIVED = Mark("~", "~", "waived", "quiet")

ROLE_MARKS: dict[str, Mark] = {
    "bass": Mark("▂", "_", "bass", "heard"),
    "harmony": Mark("≡", "=", "harmony", "root"),
    "melody": Mark("∿", "~", "melody", "quiet"),
    "drums": Mark("×", "x", "drums", "quiet"),
    "other": Mark("·", ".", "other", "quiet"),
}

# What a strip is drawn with: the first cell of a note, and the cells after it.
ONSET = Mark("▐", "[", "a note begins", "heard")
ONSET_WRITTEN = Mark("×", "X", "it begins, as written", "as-written")
ONSET_MENDED = Mark("◇", "+", "it begins, as mended", "as-mended")
BODY = Mark("█", "=", "it sounds on", "heard")
BODY_WRITTEN = Mark("▒", "x", "as written", "as-written")
BODY_MENDED = Mark("░", "-", "as mended", "as-mended")
HITS = Mark("║", "#", "several hits in one column", "heard")
RISE = Mark("╱", "/", "slides up", "slide")
FALL = Mark("╲", "\\", "slides down", "slide")
BAR_LINE = Mark("┊", ":", "bar line", "grid")
PHRASE_START = Mark("┣", "|", "a phrase begins", "phrase")
PHRASE_BODY = Mark("━", "-", "it goes on", "phrase")
FILL = Mark("▒", "#", "a fill", "fill")
STEPS = ("▁▂▃▄▅▆▇█", "12345678")  # velocity in eighths of the range, Unicode and ASCII

MORE = Mark("…", ".", "and more", "quiet")

# Style names that reports use -> what a terminal does. `plain` and `heard` keep the user's own
# foreground, so that every terminal theme stays readable.
STYLES: dict[str, str] = {
    "plain": "default",
    "heading": "bold",
    "quiet": "dim",
    "error": "bold red",
    "warning": "bold yellow",
    "note": "bold cyan",
    "rule": "italic",
    "heard": "default",
    "as-written": "bold red",
    "as-mended": "green",
    "slide": "magenta",
    "fill": "magenta",
    "grid": "dim",
    "ruler": "dim",
    "focus": "bold",
    "root": "bold",
    "phrase": "blue",
}


_LIKELY = 0.5  # certainty of a root from which it is likelier than all others together


def chord_name(root: int, quality: str, spelled: tuple[str, ...]) -> str:
    """Chord symbol, such as ``F#m7``; ``?`` where no root is heard."""
    from basslint.theory.chords import SUFFIXES  # with columns; most reports name no chord

    return f"{spelled[root]}{SUFFIXES.get(quality, '')}" if root >= 0 else "?"


def chord_at(roots: Roots, row: int, spelled: tuple[str, ...]) -> str:
    """The chord symbol of a stretch; ``N.C.`` where it is stated that none sounds, ``~`` where the
    chord of a loop moves into the next, and ``?`` where what is heard is as likely wrong as right,
    as under a tune alone."""
    if roots.root[row] < 0 and roots.source_name(row) != "midi":
        return "N.C." if roots.source_name(row) == "stated" else "~"
    if roots.certainty[row] < _LIKELY:
        return "?"
    return chord_name(int(roots.root[row]), roots.quality_name(row), spelled)


def fitted(name: str, root: str, room: int, unicode: bool) -> str:
    """A chord's name where it has room, else its root and a mark that there is more, else nothing:
    a name that is cut would be another chord's."""
    if len(name) <= room:
        return name
    short = f"{root}{MORE.drawn(unicode)}"
    return short if root and len(short) <= room else ""


def percent(share: float) -> str:
    """A certainty as people read it. Never 100 % unless it is certain."""
    return f"{100 if share >= 1 else min(99, round(100 * share))} %"


def certainty(share: float, source: Source) -> str:
    """How sure something is and where it comes from: ``97 % sure``, ``stated``."""
    if source == "stated":
        return "stated"
    return f"{percent(share)} sure" + (", from the loop" if source == "loop" else "")


def minutes(seconds: float) -> str:
    """``1:50``."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02}"


def number(value: float, digits: int = 2) -> str:
    """A number without idle zeros."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def counted(count: int, word: str, many: str = "") -> str:
    """``1 bar``, ``2 bars``; ``many``: the word for several, where it is not the one and an s."""
    return f"{count:,} {word if count == 1 else many or f'{word}s'}"


def spot(bar: int, beat: float, beats: int = 0) -> str:
    """``bar 5, beat 2.5``; what comes a hair before a beat is told by that beat: ``just before bar
    6``. ``beats``: how many the bar has, 0 where nobody has counted."""
    ahead = math.floor(beat) + 1
    if ahead - beat > HAIR or not beats:
        return f"bar {bar}, beat {number(beat)}"
    if is_ahead(beat, beats):
        return f"just before bar {bar + 1}"
    return f"bar {bar}, just before beat {ahead}"


def is_ahead(beat: float, beats: int) -> bool:
    """Is a place in a bar of so many beats, 0 where nobody has counted, told by the next bar?"""
    next_one = math.floor(beat) + 1
    return next_one - beat <= HAIR and 0 < beats < next_one


HAIR = 0.05  # beats: closer to the next beat than this, a place is named by it


def bar_list(bars: list[tuple[int, int]], most: int = 12) -> str:
    """``bars 1–4, 9 and 13`` from stretches (first bar, bar after the last), in order; those that
    touch are told as one."""
    joined: list[tuple[int, int]] = []
    for begin, stop in bars:
        if joined and begin <= joined[-1][1]:
            begin, stop = joined[-1][0], max(stop, joined.pop()[1])
        joined.append((begin, stop))
    bars = joined
    words = [f"{a}" if b - a <= 1 else f"{a}–{b - 1}" for a, b in bars]
    left = len(words) - most
    if left > 1:
        words = [*words[:most], f"{left} more"]
    head = "bar" if len(bars) == 1 and bars[0][1] - bars[0][0] <= 1 else "bars"
    if len(words) < 2:
        return f"{head} {''.join(words)}"
    return f"{head} {', '.join(words[:-1])} and {words[-1]}"
