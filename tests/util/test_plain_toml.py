"""A plain text in TOML is read as `tomllib` reads it, and any other is left to it."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from basslint.rulebook.pages import built_in_folder
from basslint.util.plain_toml import plain_table

NOT_PLAIN = (
    'a = "x" # said', 'a = "\\n"', "a = 'x'", 'a = """x"""', "a = 01", "a = 1.", "a = .5", "a = +1",
    "a = 1e3", "a = 1_000", "a = inf", "a = 0x1F", "a = 1979-05-27", "a = [1, 2]", 'a = ["x" "y"]',
    'a = ["x",, "y"]', 'a = [, "x"]', "a = [,]", 'a = { b = "x", c = "y" }', "a = {}", 'a = "x',
    "a = 1\na = 2", "[a]\n[a]", "a = 1\n[a]", 'a = ["x"]\n[[a]]', "[[a]]\n[a]", "[a.b]", "a.b = 1",
    '"a" = 1', "a =", "= 1", "a", "[a", "[a]]", "[[a]", "[]", "[[]]", "[ a ]", "# said", "1a = 1",
    "a = 1\r", "\u00a0a = 1", 'a = "\u202e"', "a = 1234567890123456", "a = { b = 1 ", "a = true x",
    "a = [ ", "a = ]", 'a = ["x"] ]', "a = -", "a = --1", "a = { b.c = 1 }", "é = 1", "a = ٣",
)  # fmt: skip

PLAIN = (
    "", "\n \t\n", 'a = ""', "\ta=true", "a = -0", "a = 0.5", "a = -12.25", "a = []", "a = [ ]",
    'a = ["x", "y=,]"]', 'a = ["x",]', 'a = { b = "x" }', 'a = { b = ["x", "y"] }', "a = { b = 1 }",
    "[a]\nb = 1\n[[c]]\nd = 2\n[[c]]\n[e]", 'a-b_c = "é ”"', "a = { b = { c = false } }",
)  # fmt: skip


@pytest.mark.parametrize("text", NOT_PLAIN)
def test_what_is_not_plain_is_left_to_tomllib(text: str) -> None:
    assert plain_table(text.split("\n")) is None


@pytest.mark.parametrize("text", PLAIN)
def test_plain_texts_are_read_as_tomllib_reads_them(text: str) -> None:
    assert repr(plain_table(text.split("\n"))) == repr(tomllib.loads(text))


def test_the_heads_of_all_pages_are_plain() -> None:
    """Else a start would wait for `tomllib`, whose patterns take longer than our own reading."""
    heads = [p.read_text("utf-8").split("+++")[1] for p in built_in_folder().rglob("[a-z]*.md")]
    assert len(heads) > 30
    for head in heads:
        assert repr(plain_table(head.split("\n"))) == repr(tomllib.loads(head))


_PIECES = (
    "a", "b-c", "=", " = ", "[", "]", "[[", "]]", "{", "}", " ", "\t", "\n", "\n[", "]\n", '"',
    '"x"', "1", "0", ".", "-", ",", "true", "'", "\\", "#", "\r", "\n[[a]]\n", "\n[a]\n",
    '\na = "x"\n', "e", "_", "é",
)  # fmt: skip


@given(st.lists(st.sampled_from(_PIECES), max_size=14).map("".join))
def test_whatever_is_read_is_what_tomllib_reads(text: str) -> None:
    plain = plain_table(text.split("\n"))
    if plain is not None:
        read: dict[str, Any] = tomllib.loads(text)
        assert repr(plain) == repr(read)
