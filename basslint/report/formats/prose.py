"""How does the text of a rule page look on a page of HTML?"""

from __future__ import annotations

import re
from collections.abc import Sequence

_TITLE = re.compile(r"^## +([^\n]+)\n", re.M)
_BEAT = re.compile(r"^```beat[^\n]*\n.*?^```[^\n]*$", re.M | re.S)
_CAPTION = re.compile(r"\bexamples?$", re.I)  # of a title under which examples stand
_NAMED = re.compile(r"<code>([a-z-]+)</code>")


def is_caption(title: str) -> bool:
    """Does a title introduce examples, as "A flagged example" and "Another flagged example" do?"""
    return bool(_CAPTION.search(title))


def captions(body: str) -> list[str]:
    """What introduces each example of a body, in order: the text under the title it stands under;
    nothing where that title is one of prose."""
    pieces = _TITLE.split(body)
    titled = zip(["", *pieces[1::2]], pieces[0::2], strict=True)
    return [
        _BEAT.sub("", text).strip() if is_caption(title.strip()) else ""
        for title, text in titled
        for _ in _BEAT.findall(text)
    ]


def sections(body: str) -> list[tuple[str, str]]:
    """A body as (title, text) in order, without its beats; what stands before the first title has
    none."""
    pieces = _TITLE.split(_BEAT.sub("", body))
    titled = zip(["", *pieces[1::2]], pieces[0::2], strict=True)
    return [(title.strip(), text.strip()) for title, text in titled if title or text.strip()]


def without_examples(body: str) -> str:
    """A body with neither the beats of its examples nor what introduces them."""
    kept = [(title, text) for title, text in sections(body) if not is_caption(title)]
    return "\n\n".join(f"## {title}\n\n{text}" if title else text for title, text in kept)


def linked(html: str, names: Sequence[str]) -> str:
    """HTML in which rules that are named in code lead to their lessons."""
    known = frozenset(names)
    return _NAMED.sub(
        lambda m: f'<a href="#rule-{m[1]}">{m[0]}</a>' if m[1] in known else m[0], html
    )
