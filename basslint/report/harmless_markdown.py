"""What of a page's Markdown is handed to a program that shows it as it likes?

A house page may be a stranger's. Viewers of SARIF render its help; some obey HTML in it, follow any
link and load pictures. So no mark-up is left but Markdown's own, links lead to the web alone, and a
picture becomes a link. Syntax: CommonMark 0.31.
"""

from __future__ import annotations

import re

_FENCE = re.compile(r"(?P<indent> {0,3})(?P<mark>`{3,}(?=[^`]*$)|~{3,})")
_WEB = r"https?://[\w.~/?#=%,+-]*"  # no entity, no backslash: nothing that reads as another scheme
_LINK = re.compile(rf"\]\((?!{_WEB}\))")
_DEFINITION = re.compile(rf"\]:(?![ \t]+{_WEB}[ \t]*$)")


def harmless_markdown(body: str) -> str:
    """A page's body without HTML, pictures and links that lead elsewhere than to the web; what
    stands in fenced blocks is shown as it is."""
    told: list[str] = []
    mark, clear = "", True
    for line in re.split(r"\r\n|\r|\n", body):
        told.append(line if mark else _without(line))
        if mark:
            mark = "" if _closes(line, mark) else mark
        elif clear and (fence := _FENCE.match(line)):
            # one that is set in may be a list's and end with it: no block is told apart from here
            clear = not fence["indent"]
            mark = fence["mark"] if clear else ""
    return "\n".join(told)


def _closes(line: str, mark: str) -> bool:
    """Whether a line ends the fenced block that ``mark`` opened."""
    bare = line.rstrip(" \t")
    signs = bare.lstrip(" ")
    return len(bare) - len(signs) < 4 and len(signs) >= len(mark) and set(signs) == {mark[0]}


def _without(line: str) -> str:
    # by their numbers: a backslash before them would make one that is put there a sign of its own
    line = line.replace("<", "&lt;").replace("![", "&#33;[")
    return _DEFINITION.sub(r"]\\:", _LINK.sub(r"]\\(", line))
