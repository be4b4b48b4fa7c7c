"""How do drawn cells become rows of styled text?"""

from __future__ import annotations

from itertools import groupby

from basslint.util.records import record


@record
class Segment:
    """A run of text in one style, a key of `marks.STYLES`."""

    text: str
    style: str


@record
class Row:
    """One line of a drawing."""

    segments: tuple[Segment, ...]

    @property
    def text(self) -> str:
        """The line without its styles, without idle space at its end."""
        return "".join(s.text for s in self.segments).rstrip()


class Cells:
    """A line of ``width`` one-column cells; what is put outside of it is left away."""

    def __init__(self, width: int) -> None:
        self.width = width
        self._chars = [" "] * width
        self._styles = ["plain"] * width

    def copy(self) -> Cells:
        """Another line with the same cells."""
        other = Cells(0)
        other.width, other._chars, other._styles = self.width, [*self._chars], [*self._styles]
        return other

    def put(self, at: int, text: str, style: str) -> None:
        """Write ``text`` from a column on, over what was there."""
        begin, end = max(at, 0), min(at + len(text), self.width)
        if begin < end:
            self._chars[begin:end] = text[begin - at : end - at]
            self._styles[begin:end] = [style] * (end - begin)

    def empty(self, at: int) -> bool:
        """Whether a column exists and holds nothing yet."""
        return 0 <= at < self.width and self._chars[at] == " "

    def has(self, style: str, begin: int = 0, stop: int | None = None) -> bool:
        """Whether anything is drawn in a style, in columns ``begin`` to ``stop``."""
        return style in self._styles[max(begin, 0) : stop]

    def segments(self) -> tuple[Segment, ...]:
        """The line as runs of one style, idle space at its end left away."""
        text = "".join(self._chars).rstrip()
        result: list[Segment] = []
        at = 0
        for style, run in groupby(self._styles[: len(text)]):
            end = at + len(list(run))
            result.append(Segment(text[at:end], style))
            at = end
        return tuple(result)


def labelled(label: str, label_style: str, cells: Cells) -> Row:
    """A row with something in front of its cells."""
    return Row((Segment(label, label_style), *cells.segments()))
