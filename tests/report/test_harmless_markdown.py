"""A stranger's page reaches other programs without HTML, pictures or links into the machine."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from basslint.cli.main import main
from basslint.report.harmless_markdown import harmless_markdown

ROOT = Path(__file__).parents[2]

HOSTILE = [
    "<script>alert(1)</script>",
    "a <img src=x onerror=alert(1)> b",
    "<div\nonclick=alert(1)>\n\nx",
    "<javascript:alert(1)>",
    "[x](javascript:alert(1))",
    "[x](  JaVaScRiPt:alert(1))",
    "[x](&#106;avascript:alert(1))",
    "[x](\njavascript:alert(1))",
    "[x](<javascript:alert(1)>)",
    "[x]: javascript:alert(1)\n\n[x]",
    "[x]:\njavascript:alert(1)\n\n[x]",
    "[x]: <data:text/html,1>\n\n[x]",
    "![x](http://there.example/pixel.png)",
    "![x][y]\n\n[y]: http://there.example/pixel.png",
    "[![x](http://there.example/pixel.png)](file:///etc/passwd)",
    "[x](file:///etc/passwd)",
    "```\n<b>\n````\n<script>alert(1)</script>",
    "   ```\n<b>\n   ```\n<script>alert(1)</script>",
    # what looks like the end or the beginning of a fenced block, and is none
    "   ```\nA\n```\n<script>alert(1)</script>\n```",
    "```\nA\n```~\nB\n```\n<script>alert(1)</script>\n```",
    "```\n  ```\n<script>alert(1)</script>\n```",
    "- A\n  ```\n<script>alert(1)</script>\n  ```",
    "~~~ A`B\nC\n~~~\n<script>alert(1)</script>\n~~~",
    "~~~~~\nA\n~~~\nB\n~~~~~\n<script>alert(1)</script>\n~~~\n~~~~~",
    "~~~A\r~~~\r<script>alert(1)</script>\n~~~",
    "\\![x](http://there.example/pixel.png)",
    "\\\\![x](http://there.example/pixel.png)",
    "[x](java\tscript:alert(1))\n\n<java\tscript:alert(1)>\n\n[x](jav&Tab;ascript:alert(1))",
    "[x](&#x6A&#x61vascript:alert(1))\n\n[x](javascript&colon;alert(1))",
    "[x]\n\n[x]: &#100;ata:text/html;base64,PHNjcmlwdD4=",
    "<IMG SRC=x OnErRoR=alert(1)>",
]


class Tags(HTMLParser):
    """Tags that a renderer wrote, and where their links lead."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.links += [v or "" for k, v in attrs if k in ("href", "src") or k.startswith("on")]


def rendered(text: str) -> Tags:
    """As the most obedient renderer writes it: HTML let through, every link let be."""
    reader = MarkdownIt("commonmark", {"html": True})
    reader.validateLink = lambda _: True  # type: ignore[method-assign]
    tags = Tags()
    tags.feed(reader.render(text))
    return tags


@pytest.mark.parametrize("text", HOSTILE)
def test_nothing_is_left_to_obey(text: str) -> None:
    for around in ("{}", "- {}", "> {}", "# Heading\n\nWords {}\n\nWords"):
        tags = rendered(harmless_markdown(around.format(text)))
        assert not tags.tags - {"a", "p", "h1", "ul", "li", "pre", "code", "blockquote"}
        assert all(link.startswith("http") for link in tags.links)
    before = rendered(text)
    assert before.tags & {"script", "img", "div", "b"} or before.links  # each was harmful


def test_what_is_harmless_stays() -> None:
    text = "# A\n\nSee [this](https://there.example/a) and `F#1`.\n\n```beat\nsub | A1:4 <\n```\n"
    assert harmless_markdown(text) == text
    for page in sorted((ROOT / "rules").glob("*/*.md")):
        body = page.read_text(encoding="utf-8")
        assert harmless_markdown(body) == body


def test_the_help_of_a_house_rule_is_harmless_in_sarif(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    page = (ROOT / "rules" / "harmony" / "off-root.md").read_text(encoding="utf-8")
    (tmp_path / "rules").mkdir()
    (tmp_path / "basslint.toml").write_text("")
    hostile = page.replace("## ", "<script>alert(1)</script> [x](javascript:alert(1))\n\n## ", 1)
    assert hostile != page
    (tmp_path / "rules" / "off-root.md").write_text(hostile, encoding="utf-8")
    song = tmp_path / "a.mid"
    song.write_bytes((ROOT / "samples" / "spilled-tea.mid").read_bytes())
    main(["check", str(song), "--format", "sarif"])
    rules = json.loads(capfd.readouterr().out)["runs"][0]["tool"]["driver"]["rules"]
    (help_,) = (r["help"]["markdown"] for r in rules if r["id"] == "off-root")
    assert "&lt;script>" in help_ and "](javascript" not in help_ and "<script" not in help_
