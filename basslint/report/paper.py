"""How do styled lines reach a terminal or a pipe?

On a terminal rich colours and the width is the terminal's; in a pipe the width is 80, nothing is
coloured, and a line that cannot be broken well is left long. Where the stream's encoding lacks the
marks, the ASCII ones are written.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import TextIO

from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Row, Segment
from basslint.report.drawing.look import Look
from basslint.report.section import PIPED_WIDTH

KEPT = "\N{NO-BREAK SPACE}"  # a space at which no line breaks; printed as any other
LEAST_WIDTH = 20  # below, nothing can be laid out; lines are cut there instead

_SIGNS = "▐█▒░║╱╲┊┣━●◐○×◇∿≡▂–·…▇"
_TYPED = str.maketrans(
    dict(zip("–−—·“”’♯♭×→•─━│▌\N{NO-BREAK SPACE}", '---|""\'#bx>*-=|| ', strict=True))
    | {"…": "...", "±": "+/-"}
)
# control characters, line breaks and direction marks: shown by their numbers, never sent
_OBEYED = frozenset(
    map(chr, (*range(0x20), *range(0x7F, 0xA0), *range(0x2028, 0x202F), *range(0x2066, 0x206A)))
) | frozenset("\u061c\u200e\u200f")
# each takes one cell; any other character may take none, or two
_PLAIN = frozenset(map(chr, range(0x20, 0x7F))) | frozenset(f"{_SIGNS}—“”’−{KEPT}")
_WORD = r" *[^ ]+"
_PIECE = f"[ {KEPT}]*[^ {KEPT}]+|{KEPT}+"


class Paper:
    """A stream that knows its look; every text report writes through it."""

    def __init__(self, stream: TextIO, middle_c: int = 4, width: int | None = None) -> None:
        self.stream = stream
        self.terminal = bool(getattr(stream, "isatty", lambda: False)())
        self.encoding = getattr(stream, "encoding", None) or "utf-8"
        if self.terminal:  # rich takes its time to be loaded, and a pipe has nothing to style
            from rich.console import Console

            self.console = Console(
                file=stream,
                width=width,
                highlight=False,
                emoji=False,
                markup=False,
                legacy_windows=False,
            )
            self.terminal, width = self.console.is_terminal, self.console.width
        width = max(width or PIPED_WIDTH, LEAST_WIDTH)
        self.look = Look(width, _can_write(self.encoding), middle_c)

    def line(self, *segments: Segment, indent: int = 0) -> None:
        """A line as it is; a terminal folds it, a pipe gets it whole."""
        spoken = self._spoken_all(segments)
        self._print(spoken, "".join([s.text for s in spoken]), " " * indent)

    def blank(self) -> None:
        """An empty line."""
        self.stream.write("\n")

    def paragraph(self, segments: Iterable[Segment], indent: int = 0, hanging: int = 0) -> None:
        """Words broken at spaces to the width; lines after the first stand at ``hanging``."""
        spoken = self._spoken_all(segments)
        first, rest = (max(self.look.width - n, 8) for n in (indent, hanging))
        text = "".join([s.text for s in spoken])
        ends = [0, *_breaks(text, first, rest), len(text)]
        for count, (begin, end) in enumerate(pairwise(ends)):
            stop = begin + len(text[begin:end].rstrip())
            self._print(spoken, text, " " * (hanging if count else indent), begin, stop)

    def drawing(self, rows: Iterable[Row], indent: int = 0) -> None:
        """Rows of a drawing, cut at the edge rather than folded."""
        for row in rows:
            spoken = self._spoken_all(row.segments)
            text = "".join([s.text for s in spoken])
            text = _fitting(text, self.look.width - indent).rstrip()
            self._print(spoken, text, " " * indent if text else "")

    def markdown(self, source: str, indent: int = 0) -> None:
        """A piece of Markdown, set in by ``indent``."""
        from rich.console import Console
        from rich.markdown import Markdown  # 40 ms that only pages need

        shown = self.console if self.terminal else None
        inside = Console(
            file=io.StringIO(),
            width=max(self.look.width - indent, 8),
            force_terminal=self.terminal,
            color_system=shown.color_system if shown else None,  # type: ignore[arg-type]  # as rich names it
            no_color=shown.no_color if shown else True,
            legacy_windows=False,
        )
        with inside.capture() as captured:
            inside.print(Markdown(source, code_theme="bw", hyperlinks=False))
        for line in captured.get().strip("\n").split("\n"):
            self.stream.write(f"{' ' * indent}{self._signs(line)}".rstrip() + "\n")

    def _spoken_all(self, segments: Iterable[Segment]) -> list[Segment]:
        said = [(s, self._spoken(s.text)) for s in segments]
        return [s if text is s.text else Segment(text, s.style) for s, text in said]

    def _print(
        self,
        spoken: Iterable[Segment],
        text: str,
        lead: str,
        begin: int = 0,
        stop: int | None = None,
    ) -> None:
        """One line, in colours where there are any: a piece of ``text``, which is ``spoken``."""
        stop = len(text) if stop is None else stop
        if not self.terminal:
            self.stream.write(f"{lead}{text[begin:stop]}".replace(KEPT, " ") + "\n")
            return
        from rich.text import Text

        styled = Text(lead)
        for segment in _cut(spoken, begin, stop):
            styled.append(segment.text.replace(KEPT, " "), marks.STYLES[segment.style])
        self.console.print(styled, soft_wrap=True)

    def _spoken(self, text: str) -> str:
        """The text in signs that the stream can carry."""
        if text.isascii() and text.isprintable():
            return text
        if not _OBEYED.isdisjoint(text):
            text = "".join([ascii(c)[1:-1] if c in _OBEYED else c for c in text])
        return self._signs(text)

    def _signs(self, text: str) -> str:
        if not self.look.unicode:
            text = text.translate(_TYPED)
        pieces = text.split(KEPT)  # encodings without it would spell it out
        return KEPT.join(
            p.encode(self.encoding, "backslashreplace").decode(self.encoding) for p in pieces
        )


def kept(text: str) -> str:
    """The text as one word: no line breaks inside it, if it has room on one."""
    return text.replace(" ", KEPT)


def _cut(segments: Iterable[Segment], begin: int, end: int) -> list[Segment]:
    """The piece of a text from one place to another, with its styles."""
    pieces, at = [], 0
    for segment in segments:
        text = segment.text[max(begin - at, 0) : max(end - at, 0)]
        at += len(segment.text)
        if text:
            pieces.append(Segment(text, segment.style))
    return pieces


def _fitting(text: str, cells: int) -> str:
    text = text[:cells]
    while _cells(text) > cells:  # only where signs take two cells
        text = text[:-1]
    return text


def _cells(text: str) -> int:
    """How many cells of a terminal a text takes."""
    if _PLAIN.issuperset(text):
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def _breaks(text: str, first: int, rest: int) -> list[int]:
    """Where to break a text so that its first line takes ``first`` cells and the others ``rest``.

    Lines break at spaces, and at kept ones where what they keep is longer than a line; a word that
    is itself longer is broken where the line ends.
    """
    breaks: list[int] = []
    used, room = 0, first
    if _PLAIN.issuperset(text) and len(text) <= room:
        return breaks
    for begin, end in _words(text, min(first, rest)):
        size = _cells(text[begin:end])
        if used and used + size > room:
            begin = end - len(text[begin:end].lstrip())  # the break swallows the spaces
            breaks.append(begin)
            used, room = 0, rest
            size = _cells(text[begin:end])
        if used + size <= room:
            used += size
            continue
        for at in range(begin, end):
            size = _cells(text[at])
            if used + size > room:
                breaks.append(at)
                used, room = 0, rest
            used += size
    return breaks


def _words(text: str, room: int) -> Iterator[tuple[int, int]]:
    """Words with the spaces before them, as places; kept words are one where they have room."""
    for word in re.finditer(_WORD, text):
        begin, end = word.span()
        if KEPT not in word[0] or _cells(word[0].lstrip()) <= room:
            yield begin, end
            continue
        for piece in re.finditer(_PIECE, word[0]):
            yield begin + piece.start(), begin + piece.end()


def _can_write(encoding: str) -> bool:
    try:
        _SIGNS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True
