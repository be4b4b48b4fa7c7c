"""How does the text of a rule page look on a page of HTML?"""

from __future__ import annotations

import re
from collections.abc import Sequence

_TITLE = re.compile(r"^## +([^\n]+)\n", re.M)
_BEAT = re.compile(r"^```beat[^\n]*\n.*?^```[^\n]*$", re.M | re.S)
_NAMED = re.compile(r"<code>([a-z-]+)</code>")

# the titles under which examples stand, and which side of a plate each of them introduces
CAPTIONS = {"A flagged example": "flagged", "A clean example": "clean"}


def sections(body: str) -> list[tuple[str, str]]:
    """A body as (title, text) in order, without its beats; what stands before the first title has
    none."""
    pieces = _TITLE.split(_BEAT.sub("", body))
    titled = zip(["", *pieces[1::2]], pieces[0::2], strict=True)
    return [(title.strip(), text.strip()) for title, text in titled if title or text.strip()]


def without_examples(body: str) -> str:
    """A body with neither the beats of its examples nor what introduces them."""
    kept = [(title, text) for title, text in sections(body) if title not in CAPTIONS]
    return "\n\n".join(f"## {title}\n\n{text}" if title else text for title, text in kept)


def linked(html: str, names: Sequence[str]) -> str:
    """HTML in which rules that are named in code lead to their lessons."""
    known = frozenset(names)
    return _NAMED.sub(
        lambda m: f'<a href="#rule-{m[1]}">{m[0]}</a>' if m[1] in known else m[0], html
    )
