"""The page that follows a folder: the page of the report, with what makes it live."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from basslint.errors import BasslintError
from basslint.report.formats.html import MOST_BYTES, page_values, worst_first
from basslint.report.formats.page_parts import (
    css_text,
    environment,
    policy,
    script_text,
    unpacked,
)
from basslint.report.section import Run, Section
from basslint.rulebook.model import Rule
from basslint.watch.board import Board, Standing
from basslint.watch.orders import lines_of

BOOK = "/book"  # the address of the rule book
_SCRIPTS = ("keep", "follow", "drop")
_OWN_SERVER = "connect-src 'self'"


def page(board: Board, rules: tuple[Rule, ...], only: str = "") -> str:
    """The whole page, or with one song alone: ``only`` is its id."""
    shown = [board.songs[only]] if only in board.songs else list(_fitting(board))
    values = _values(board, rules, {str(s.source.path): _html(s) for s in shown}, whole=True)
    tools = {s.source.id: tools_of(s) for s in shown}
    return str(_template("follow.html.j2").render(values, home="", only=only, tools=tools))


def pieces(
    board: Board, rules: tuple[Rule, ...], shown: Iterable[str], asked: Iterable[str]
) -> Any:
    """What of the page is new, for a page that has the songs ``shown``: the ones ``asked`` for
    by id, and its frame."""
    songs = [board.songs[i] for i in asked if i in board.songs]
    there = {*shown, *(s.source.id for s in songs)} & set(board.songs)
    texts = {str(board.songs[i].source.path): "" for i in there}
    frame = _values(board, rules, texts, whole=False)
    return {
        "frame": str(_template("follow.html.j2").render(frame, home="", only="", tools={})),
        "songs": [
            {"id": s.source.id, "version": s.version, "html": _html(s), "tools": tools_of(s)}
            for s in songs
        ],
    }


def page_policy() -> str:
    """The Content-Security-Policy of the page, which may ask its own server and nobody else."""
    return policy(_css(), _script(), more=_OWN_SERVER)


def tools_of(standing: Standing) -> str:
    """What stands above a song: what the last export changed, and what can be made of it."""
    return str(_template("tools.html.j2").render(song=standing, lines=_lines(standing)))


def _lines(standing: Standing) -> str:
    try:
        return lines_of(standing.source)
    except BasslintError:  # the settings were damaged since: the page says so
        return ""


def _fitting(board: Board) -> Iterable[Standing]:
    """The songs that the page holds: those of this session's exports first, then the gravest."""
    left = MOST_BYTES

    def rank(standing: Standing) -> tuple[Any, ...]:
        fresh = standing.change is not None or standing.is_dropped
        return (not fresh, -standing.version if fresh else 0, worst_first(standing.section))

    for n, each in enumerate(sorted(board.songs.values(), key=rank)):
        left -= len(_html(each).encode("utf-8"))
        if left >= 0 or not n:
            yield each


def _values(
    board: Board, rules: tuple[Rule, ...], texts: dict[str, str], whole: bool
) -> dict[str, Any]:
    sections: list[Section] = sorted((s.section for s in board.songs.values()), key=worst_first)
    css, script = (_css(), _script()) if whole else ("", "")
    run = Run(rules, board.remarks, book=BOOK)
    values = page_values(sections, run, texts, css, script)
    return values | {"board": board, "policy": page_policy()}


def _html(standing: Standing) -> str:
    return unpacked(standing.section.text)


@cache
def _script() -> str:
    return script_text(*_SCRIPTS)


@cache
def _css() -> str:
    return css_text("follow")


def _template(name: str) -> Any:
    return environment().get_template(name)
