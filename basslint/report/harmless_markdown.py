"""What of a page's Markdown is handed to a program that shows it as it likes?

A house page may be a stranger's. Viewers of SARIF render its help; some obey HTML in it, follow any
link and load pictures. So no mark-up is left but Markdown's own, links lead to the web alone, and a
picture becomes a link. Syntax: CommonMark 0.31.
"""

from __future__ import annotations

import re

_FENCE = re.compile(r"^(?P<mark>`{3,}|~{3,})[^`\n]*\n.*?^(?P=mark)[`~]*[ \t]*$", re.M | re.S)
_WEB = r"https?://[\w.~/?#=%,+-]*"  # no entity, no backslash: nothing that reads as another scheme
_LINK = re.compile(rf"\]\((?!{_WEB}\))")
_DEFINITION = re.compile(rf"\]:(?![ \t]+{_WEB}[ \t]*$)", re.M)


def harmless_markdown(body: str) -> str:
    """A page's body without HTML, pictures and links that lead elsewhere than to the web; what
    stands in fenced blocks is shown as it is."""
    pieces: list[str] = []
    at = 0
    for fence in _FENCE.finditer(body):
        pieces += [_without(body[at : fence.start()]), fence[0]]
        at = fence.end()
    return "".join((*pieces, _without(body[at:])))


def _without(text: str) -> str:
    text = text.replace("<", "&lt;").replace("![", "\\![")
    return _DEFINITION.sub(r"]\\:", _LINK.sub(r"]\\(", text))
