"""How do styled lines reach a terminal or a pipe?

On a terminal rich colours and the width is the terminal's; in a pipe the width is 80, nothing is
coloured, and a line that cannot be broken well is left long. Where the stream's encoding lacks the
marks, the ASCII ones are written.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from typing import TextIO

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from basslint.report import marks
from basslint.report.canvas import Row, Segment
from basslint.report.section import PIPED_WIDTH
from basslint.report.strip import Look

KEPT = "\N{NO-BREAK SPACE}"  # a space at which no line breaks; printed as any other
LEAST_WIDTH = 20  # below, nothing can be laid out; lines are cut there instead

_SIGNS = "▐█▒░║╱╲┊┣━●◐○×◇∿≡▂–·…▇"
_TYPED = str.maketrans(
    dict(zip("–−—·“”’♯♭×→•─━│▌\N{NO-BREAK SPACE}", '---|""\'#bx>*-=|| ', strict=True))
    | {"…": "...", "±": "+/-"}
)
# control characters, line breaks and direction marks: shown by their numbers, never sent
_OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
_WORD = re.compile(r" *[^ ]+")


class Paper:
    """A console that knows its look; every text report writes through it."""

    def __init__(self, stream: TextIO, middle_c: int = 4, width: int | None = None) -> None:
        terminal = bool(getattr(stream, "isatty", lambda: False)())
        self.console = Console(
            file=stream,
            width=width or (None if terminal else PIPED_WIDTH),
            highlight=False,
            emoji=False,
            markup=False,
            legacy_windows=False,
        )
        self.terminal = self.console.is_terminal
        self.encoding = getattr(stream, "encoding", None) or "utf-8"
        self.look = Look(max(self.console.width, LEAST_WIDTH), _can_write(self.encoding), middle_c)

    def line(self, *segments: Segment, indent: int = 0) -> None:
        """A line as it is; a terminal folds it, a pipe gets it whole."""
        self._print(self._text(segments, indent))

    def blank(self) -> None:
        """An empty line."""
        self._print(Text())

    def paragraph(self, segments: Iterable[Segment], indent: int = 0, hanging: int = 0) -> None:
        """Words broken at spaces to the width; lines after the first stand at ``hanging``."""
        text = self._text(segments, 0)
        first, rest = (max(self.look.width - n, 8) for n in (indent, hanging))
        for count, part in enumerate(text.divide(_breaks(text.plain, first, rest))):
            part.rstrip()
            self._print(Text(" " * (hanging if count else indent)) + part)

    def drawing(self, rows: Iterable[Row], indent: int = 0) -> None:
        """Rows of a drawing, cut at the edge rather than folded."""
        for row in rows:
            if not self.terminal:
                line = " " * indent + self._spoken(row.text)
                self.console.file.write(f"{line[: self.look.width].rstrip()}\n")
                continue
            text = self._text(row.segments, indent)
            text.truncate(self.look.width)
            text.rstrip()
            self._print(text)

    def markdown(self, source: str, indent: int = 0) -> None:
        """A piece of Markdown, set in by ``indent``."""
        from rich.markdown import Markdown  # 40 ms that only pages need

        inside = Console(
            file=io.StringIO(),
            width=max(self.look.width - indent, 8),
            force_terminal=self.console.is_terminal,
            color_system=self.console.color_system,  # type: ignore[arg-type]  # as rich names it
            no_color=self.console.no_color,
            legacy_windows=False,
        )
        with inside.capture() as captured:
            inside.print(Markdown(source, code_theme="bw", hyperlinks=False))
        for line in captured.get().strip("\n").split("\n"):
            self.console.file.write(f"{' ' * indent}{self._signs(line)}".rstrip() + "\n")

    def _text(self, segments: Iterable[Segment], indent: int) -> Text:
        text = Text(" " * indent)
        for segment in segments:
            text.append(self._spoken(segment.text), marks.STYLES[segment.style])
        return text

    def _print(self, text: Text) -> None:
        text.plain = text.plain.replace(KEPT, " ")
        if self.terminal:
            self.console.print(text, soft_wrap=True)
        else:  # nothing to style: rich would only take its time
            self.console.file.write(f"{text.plain}\n")

    def _spoken(self, text: str) -> str:
        """The text in signs that the stream can carry."""
        if text.isascii() and text.isprintable():
            return text
        return self._signs(_OBEYED.sub(lambda m: ascii(m[0])[1:-1], text))

    def _signs(self, text: str) -> str:
        if not self.look.unicode:
            text = text.translate(_TYPED)
        pieces = text.split(KEPT)  # encodings without it would spell it out
        return KEPT.join(
            p.encode(self.encoding, "backslashreplace").decode(self.encoding) for p in pieces
        )


def kept(text: str) -> str:
    """The text as one word: no line breaks inside it."""
    return text.replace(" ", KEPT)


def _breaks(text: str, first: int, rest: int) -> list[int]:
    """Where to break a text so that its first line takes ``first`` cells and the others ``rest``.

    Lines break at spaces; a word that is longer than a line is broken where the line ends.
    """
    breaks: list[int] = []
    used, room = 0, first
    for match in _WORD.finditer(text):
        if used and used + cell_len(match[0]) > room:
            breaks.append(match.end() - len(match[0].lstrip(" ")))
            used, room = 0, rest
        for at in range(match.start(), match.end()):
            if breaks and at < breaks[-1]:
                continue  # the spaces that a break has swallowed
            size = cell_len(text[at])
            if used + size > room:
                breaks.append(at)
                used, room = 0, rest
            used += size
    return breaks


def _can_write(encoding: str) -> bool:
    try:
        _SIGNS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True
