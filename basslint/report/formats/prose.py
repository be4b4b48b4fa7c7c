"""How does the text of a rule page look on a page of HTML?"""

from __future__ import annotations

import re
from collections.abc import Sequence

_TITLE = re.compile(r"^## +([^\n]+)\n", re.M)
_BEAT = re.compile(r"^```beat[^\n]*\n.*?^```[^\n]*$", re.M | re.S)
_NAMED = re.compile(r"<code>([a-z-]+)</code>")


def sections(body: str) -> list[tuple[str, str]]:
    """A body as (title, text) in order, without its beats; what stands before the first title has
    none."""
    pieces = _TITLE.split(_BEAT.sub("", body))
    titled = zip(["", *pieces[1::2]], pieces[0::2], strict=True)
    return [(title.strip(), text.strip()) for title, text in titled if title or text.strip()]


def linked(html: str, names: Sequence[str]) -> str:
    """HTML in which rules that are named in code lead to their lessons."""
    known = frozenset(names)
    return _NAMED.sub(
        lambda m: f'<a href="#rule-{m[1]}">{m[0]}</a>' if m[1] in known else m[0], html
    )
