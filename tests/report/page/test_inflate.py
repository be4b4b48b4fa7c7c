"""The script that unpacks the page's own gives back what zlib packed, whatever it was."""

from __future__ import annotations

import re
import zlib

import numpy as np
import pytest
from page_opened import Opened

from basslint.report.formats.page_parts import lettered, page_file, script_text

UNPACK = "([text]) => inflate(unlettered(text))"
RNG = np.random.default_rng(1951)  # RFC 1951, DEFLATE
TEXTS = {
    "nothing": "",
    "one letter": "a",
    "one letter for long": "a" * 70_000,  # the longest matches, one after the other
    "signs of other alphabets": "▷ ○ ◐ “é” 𝄢 " * 50,
    "noise": "".join(map(chr, RNG.integers(32, 127, 5_000))),
    "far back": "".join(map(chr, RNG.integers(32, 127, 30_000))) * 2,  # the longest ways back
    "the page's script": script_text(),
}


@pytest.mark.parametrize("strategy", [zlib.Z_DEFAULT_STRATEGY, zlib.Z_FIXED, None])
def test_it_gives_back_what_was_packed(browser, strategy: int | None) -> None:
    """With codes of its own, with the fixed ones, and not packed at all (level 0)."""
    page = browser.new_page()
    page.add_script_tag(content=page_file("inflate.js"))
    for name, text in TEXTS.items():
        level, kind = (0, zlib.Z_DEFAULT_STRATEGY) if strategy is None else (9, strategy)
        packer = zlib.compressobj(level, zlib.DEFLATED, -zlib.MAX_WBITS, 8, kind)
        packed = packer.compress(text.encode("utf-8")) + packer.flush()
        assert page.evaluate(UNPACK, [lettered(packed)]) == text, name
    page.close()


@pytest.mark.parametrize("length", [0, 1, 2, 3, 4, 5, 4096])
def test_bytes_come_back_out_of_letters_that_a_script_may_hold(browser, length: int) -> None:
    """Both ends of what four bytes can be among them; zeros are put after them."""
    data = bytes(RNG.integers(0, 256, length, dtype=np.uint8)) + b"\xff" * 4 + b"\0" * 4
    text = lettered(data)
    assert re.fullmatch(r"[#-;=-\[\]-y]*", text)
    page = browser.new_page()
    page.add_script_tag(content=page_file("inflate.js"))
    found = bytes(page.evaluate("(text) => [...unlettered(text)]", text))
    assert found == data + bytes(-len(data) % 4)
    page.close()


def test_the_page_holds_its_script_as_it_was_written(tea: Opened) -> None:
    assert tea.page.locator("script:not([type])").text_content() == script_text()
