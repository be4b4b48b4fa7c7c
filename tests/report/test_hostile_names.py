"""No name in a file is obeyed by what shows it: terminal, browser, Markdown, XML, spreadsheet.

Which characters a terminal obeys: ECMA-48 control functions (C0, C1); which turn text around:
the Unicode bidirectional algorithm (UAX #9). Formula characters of spreadsheets: common practice,
no source.
"""

from __future__ import annotations

import json
import re
import unicodedata
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from midi_bytes import Event, meta, midi, track

from basslint.cli.main import main

NASTY = {
    "escape": b"\x1b[2J\x1b]0;gone\x07",
    "eight-bit escape": "\x9b2J".encode(),
    "bidi": "a\u202eb\u2066c\u200f".encode(),
    "line breaks": b"one\r\ntwo\x0bthree\xe2\x80\xa8four",
    "script": b"</script><script>alert(1)</script><img src=x onerror=alert(1)>",
    "quotes": b"\"'><b>&amp;&#x3c;",
    "formula": b'=HYPERLINK("http://x","y")',
    "markdown": b"|](x)[a](javascript:alert(1))`*_#|",
    "xml": b"]]><!--<![CDATA[",
    "nothing printable": b"\x00\x01\x02",
    "long": b"x" * 10_000,
    "not UTF-8": b"\xff\xfe\xc3\x28",
    "format string": b"{0}%s%n{message}",
}
FORMATS = ("text", "json", "sarif", "junit", "html", "markdown")
_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def beat(name: bytes) -> bytes:
    """A beat with faults in it, whose tracks, marker and text events all bear the name."""
    keys: list[Event] = [(0, meta(3, name)), (0, meta(1, name))]
    bass: list[Event] = [(0, meta(3, name + b" bass")), (0, meta(4, name))]
    for _ in range(4):
        chord = (57, 60, 64)
        keys += [(0, bytes((0x90, p, 80))) for p in chord]
        keys += [(1920 * (p == chord[0]), bytes((0x80, p, 0))) for p in chord]
        for pitch in (33, 34):  # the root, and a semitone above it
            bass += [(0, bytes((0x91, pitch, 100))), (960, bytes((0x81, pitch, 0)))]
    head = track((0, meta(6, name)), (0, meta(0x58, b"\x04\x02\x18\x08")))
    return midi(head, track(*keys), track(*bass))


def obeyed(text: str) -> list[str]:
    """Characters that a terminal or a text layout would act on, line ends left aside."""
    return [
        f"U+{ord(c):04X}"
        for c in text
        if (unicodedata.category(c) in ("Cc", "Zl", "Zp") and c != "\n") or c in _BIDI
    ]


def stripped(text: str) -> str:
    """Without the colour codes of the reports themselves."""
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


class Tags(HTMLParser):
    """The tags and attributes that a browser would see."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.seen += [name for name, _ in attrs if name.startswith("on")]
        self.seen += ["javascript:" for _, v in attrs if v and v.strip().startswith("javascript:")]


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    told = capsys.readouterr()
    return code, told.out, told.err


@pytest.fixture(params=NASTY.values(), ids=NASTY.keys())
def song(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / "song.mid"
    path.write_bytes(beat(request.param))
    return path


@pytest.mark.parametrize("form", FORMATS)
def test_reports_show_names_and_obey_none(
    song: Path, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "check", str(song), "--format", form)
    assert code in (0, 1), err
    assert not obeyed(stripped(out)) and not obeyed(err)
    if form in ("json", "sarif"):
        json.loads(out)
    elif form == "junit":
        ElementTree.fromstring(out)
    elif form == "html":
        plain, seen = Tags(), Tags()
        (song.parent / "plain.mid").write_bytes(beat(b"Keys"))
        plain.feed(run(capsys, "check", str(song.parent / "plain.mid"), "--format", form)[1])
        seen.feed(out)
        for tag in ("script", "img", "b", "onerror", "javascript:"):
            assert seen.seen.count(tag) == plain.seen.count(tag), tag
    elif form == "markdown":
        assert "<script" not in out and "<img" not in out and "](javascript:" not in out
    if form in ("text", "markdown"):  # lines and cells that a spreadsheet would take for formulas
        cells = [c.strip() for line in out.splitlines() for c in line.split("|")]
        assert not [c for c in cells if c.startswith("=HYPERLINK")]


@pytest.mark.parametrize(
    "words",
    [
        ("chart",),
        ("chart", "--format", "json"),
        ("mend", "--by-ear", "--dry-run"),
        ("mend", "--by-ear", "--dry-run", "--format", "json"),
        ("explain", "off-root"),
    ],
    ids=" ".join,
)
def test_the_other_commands_do_not_either(
    song: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    command, *rest = words
    files = [*rest, str(song)] if command == "explain" else [str(song), *rest]
    code, out, err = run(capsys, command, *files)
    assert code in (0, 1), err
    assert not obeyed(stripped(out)) and not obeyed(err)


def test_a_file_name_with_escapes_is_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = tmp_path / "a\x1b[2Jb\u202ec.mid", tmp_path / "d\x1b]0;x\x07\ne.mid"
    good.write_bytes(beat(b"Keys"))
    bad.write_bytes(b"no MIDI")
    (tmp_path / f"{good.stem}.mended.mid").write_bytes(beat(b"Keys"))  # named in a remark
    for form in FORMATS:
        _, out, err = run(capsys, "check", str(tmp_path), "--format", form)
        assert not obeyed(stripped(out)), form
        assert not obeyed(err), form
    for words in (
        ("chart", str(good)),
        ("chart", str(bad)),
        ("mend", str(good), "--by-ear"),
        ("mend", str(bad)),
        ("check", str(tmp_path / "gone\x1b[2J.mid")),
        ("chart", str(good), "--bass", "\x1b[2J"),
        ("check", str(good), "--only", "\x1b[2J"),
        ("check", str(good), "--output", str(tmp_path / "no\x1b[2J" / "x")),
        ("explain", "\x1b[2J"),
        ("check", str(good), "--show-settings"),
        ("audition", str(good), "--bars", "1"),
        ("sound", str(bad)),
        *(("check", str(tmp_path), "--bass", "\x1b[2J", "--format", f) for f in FORMATS),
    ):
        _, out, err = run(capsys, *words)
        assert not obeyed(stripped(out)), words
        assert not obeyed(err), words
