"""How are script and style made smaller and stay what they are? Comments and blanks go, words stay.

The modules in `report/page` are read as they are written; only what a page carries is squeezed. Of
the language this knows what the modules use: strings, templates with values in them, patterns, line
comments. A blank goes only beside a sign that cannot run into its neighbour.
"""

from __future__ import annotations

import re

_STRING = re.compile(r'"(?:[^"\\\n]|\\.)*"' + r"|'(?:[^'\\\n]|\\.)*'")
_PATTERN = re.compile(r"/(?![/*])(?:[^/\\\[\n]|\\.|\[(?:[^\]\\\n]|\\.)*\])+/[a-z]*")
_BLANK = re.compile(r"(?:\s|//[^\n]*)+")
_PLAIN = re.compile(r"[^\s\"'`/{}]+")
_BEFORE_PATTERN = "=(:,;[!&|?{}>"  # after these a slash begins a pattern and is no division
_TIGHT = "{}()[];,=<>?:&|*!%^~."  # signs that need no blank beside them
_OPEN = "{([,;=<>?:&|*!%^~."  # a line that ends so goes on
_GOES_ON = ")],;=<>?:&|*%^."  # a line that begins so goes on


def squeezed_css(style: str) -> str:
    """A style sheet without blanks around its braces and after its signs; strings hold none."""
    bare = re.sub(r"\s+", " ", re.sub(r"/\*.*?\*/", "", style, flags=re.S))
    return re.sub(r" ?([{};]) ?|([,:]) ", r"\1\2", bare).strip()


def squeezed_html(text: str) -> str:
    """Markup without the lines' ends and indents between its elements, save where text is drawn in
    columns: each is a node of its own, and a thousand cards have tens of thousands of them."""
    pieces = re.split(r"(<pre.*?</pre>)", text, flags=re.S)
    return "".join(p if p.startswith("<pre") else _narrow(p) for p in pieces)


def _narrow(markup: str) -> str:
    """Names and paths hold no ends of lines, so that blanks in them are let be."""
    between = re.sub(r">\n\s*<", "><", markup)
    return re.sub(r"\n\s+", "\n", re.sub(r">\s{2,}<", "> <", between))


def squeezed(script: str) -> str:
    """The script with comments, and blanks that mean nothing, left out."""
    return _code(script, 0, "")[0]


def _code(text: str, at: int, until: str) -> tuple[str, int]:
    """Code from ``at`` up to the brace that closes it (``until``) or the end, and where that is."""
    out: list[str] = []
    last, depth = "", 0
    while at < len(text):
        blank = _BLANK.match(text, at)
        if blank:
            at = blank.end()
            following = text[at : at + 1]
            out.append(_kept(last, following, "\n" in blank[0]))
            continue
        sign = text[at]
        if sign == until and not depth:
            break
        if sign == "`":
            piece, at = _template(text, at)
        elif found := _literal(text, at, last):
            piece, at = found, at + len(found)
        else:
            depth += (sign == "{") - (sign == "}")
            plain = _PLAIN.match(text, at)
            piece = plain[0] if plain else sign
            at += len(piece)
        out.append(piece)
        last = piece[-1]
    return "".join(out), at


def _literal(text: str, at: int, last: str) -> str:
    """A string or a pattern that begins here; nothing where none does."""
    found = _STRING.match(text, at)
    if not found and (last in _BEFORE_PATTERN or not last):
        found = _PATTERN.match(text, at)
    return found[0] if found else ""


def _template(text: str, at: int) -> tuple[str, int]:
    """A template as it stands, its values squeezed, and where it ends."""
    out, at = ["`"], at + 1
    while text[at] != "`":
        if text.startswith("${", at):
            code, at = _code(text, at + 2, "}")
            out.append("${" + code + "}")
            at += 1
        else:
            size = 2 if text[at] == "\\" else 1
            out.append(text[at : at + size])
            at += size
    return "".join(out) + "`", at + 1


def _kept(last: str, following: str, line: bool) -> str:
    """What is left of blanks between two signs; ``line``: a line ends there."""
    if not last or not following:
        return ""
    if line:
        return "" if last in _OPEN or following in _GOES_ON else "\n"
    return "" if last in _TIGHT or following in _TIGHT else " "
