"""What is a page with songs on it made of: style, script, policy, templates?

A page of another kind is built of the same parts: songs by `html.section`, `dock.html.j2` for
listening, once, and one script at its end, by `script_text`, with modules of its own after ours.
DEVELOPERS.md says what those may lean on.
"""

from __future__ import annotations

import base64
import hashlib
import re
import struct
import zlib
from functools import cache
from importlib import resources
from typing import Any

from basslint.report.formats.squeezed import squeezed, squeezed_css
from basslint.util.text import harmless

_SCRIPTS = (
    "song", "sampled", "sounds", "voices", "loudness", "player", "pitches", "roll", "overview",
    "table", "midi", "cards", "desk", "listen", "page", "nudge", "ear", "lessons",
)  # fmt: skip

_PLACES = tuple(85**n for n in range(4, -1, -1))
_BUT = str.maketrans({"\\": "x", "<": "y"})


@cache
def environment() -> Any:
    """The templates of the page; every text is escaped unless it is marked as our own."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("basslint.report", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"filed": _filed, "worded": _worded}
    return made


def _filed(path: str) -> Any:
    """A path whose file stands out from its folders, and which breaks between them."""
    from markupsafe import Markup, escape

    *folders, name = re.split(r"(?<=[/\\])", harmless(path))
    quiet = "<wbr>".join([*(str(escape(folder)) for folder in folders), ""])
    return Markup((f'<span class="quiet">{quiet}</span>' if quiet else "") + str(escape(name)))


def _worded(text: str) -> Any:
    """A sentence whose commands are set as such, where a terminal has them in backticks."""
    from markupsafe import Markup, escape

    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(harmless(text)))))


def _plain(value: Any) -> Any:
    """Names and paths from outside, shown and not obeyed; what is marked as HTML is our own."""
    return harmless(value) if type(value) is str else value


@cache
def page_file(name: str) -> str:
    """A file of the page's own: script, style."""
    return (resources.files("basslint.report") / "page" / name).read_text(encoding="utf-8")


@cache
def script_text(*more: str) -> str:
    """The page's script: its modules in one closed scope, squeezed.

    ``more``: modules of `report/page` that follow them, and see all that they define.
    """
    whole = "".join(page_file(f"{name}.js") for name in (*_SCRIPTS, *more))
    return '"use strict";\n{\n' + squeezed(whole) + "\n}\n"


@cache
def carried_script(script: str) -> str:
    """A script that holds another one packed, and puts it in its own place: a page is a third
    smaller by it. `policy` is to allow both."""
    packer = zlib.compressobj(9, wbits=-zlib.MAX_WBITS)  # RFC 1951, without a head
    data = lettered(packer.compress(script.encode("utf-8")) + packer.flush())
    return (
        '"use strict";\n{\n'
        + squeezed(page_file("inflate.js"))
        + '\nconst made=document.createElement("script");'
        + f'\nmade.textContent=inflate(unlettered("{data}"));'
        + "\ndocument.currentScript.replaceWith(made);\n}\n"
    )


def lettered(data: bytes) -> str:
    """Bytes as five letters for four of them, padded with zeros, a sixteenth shorter than base 64.

    The digits to base 85 are the letters from "#" on, but for a backslash and "<", which a string
    within a script must not hold: "x" and "y" stand for them.
    """
    whole = data + bytes(-len(data) % 4)
    words = struct.unpack(f">{len(whole) // 4}I", whole)
    digits = bytes(word // place % 85 + ord("#") for word in words for place in _PLACES)
    return digits.decode("ascii").translate(_BUT)


@cache
def css_text(*more: str) -> str:
    """The page's style, squeezed; ``more``: styles of `report/page` that follow it."""
    return squeezed_css("".join(page_file(f"{name}.css") for name in ("page", *more)))


def policy(css: str, *scripts: str, more: str = "") -> str:
    """A Content-Security-Policy that lets a page load nothing, and run its own inline style and
    scripts alone. ``more``: a directive beside them, as a page needs that asks its own server."""
    allowed = " ".join(f"'{csp_hash(script)}'" for script in scripts)
    own = f"script-src {allowed}; " if scripts else ""
    more = f"{more}; " if more else ""
    return (
        f"default-src 'none'; style-src '{csp_hash(css)}'; {own}{more}"
        "base-uri 'none'; form-action 'none'"
    )


@cache
def csp_hash(text: str) -> str:
    """The source of a Content-Security-Policy that allows just this inline text."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode()


@cache
def markdown(body: str) -> str:
    """A rule page's body as HTML; markup inside it is shown, not obeyed, and of images the words
    alone are kept: a house page must not make the page ask for anything."""
    from markdown_it import MarkdownIt
    from markupsafe import escape

    reader = MarkdownIt("commonmark", {"html": False})
    reader.add_render_rule("image", lambda _, tokens, at, *__: str(escape(tokens[at].content)))
    # examples may be wider than the page: what scrolls must be reached by keyboard
    return str(reader.render(body)).replace("<pre>", '<pre tabindex="0">')


def packed(text: str) -> str:
    """A text made small, as a text again."""
    return base64.b64encode(zlib.compress(text.encode("utf-8"), 6)).decode("ascii")


def unpacked(text: str) -> str:
    """What `packed` made small."""
    return zlib.decompress(base64.b64decode(text)).decode("utf-8")
