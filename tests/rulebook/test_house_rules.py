"""A collective's own pages, in samples/lantern-room, run like any other."""

from __future__ import annotations

from pathlib import Path

import pytest

import basslint
from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes
from basslint.cli.main import main
from basslint.rulebook.loader import Example, Rule
from basslint.rulebook.notation import compile_beat
from basslint.settings.discovery import settings_for

ROOM = Path(__file__).parents[2] / "samples" / "lantern-room"
BEAT = ROOM / "lamp-oil.mid"
HOUSE = [r for r in book_for(settings_for(BEAT)) if r.origin == "house"]


PAGE = """+++
name = "no-low-a"
level = "note"
judges = "bass-note"
summary = "A bass note is an A"
message = "{note_name} is an A."

[[when]]
note_name = "A1"
+++
## A flagged example
```beat flagged bar 2
keys | F3+A3+C4:4 | A3+C4+E4:4 |
sub  | F1:4       | A1:4       |
```
## A clean example
```beat clean
keys | F3+A3+C4:4 | A3+C4+E4:4 |
sub  | F1:4       | E1:4       |
```
"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("", "", ""),
        ("flagged bar 2", "flagged bar 1", "line 13: the example should be flagged in bar 1"),
        ("E1:4 ", "A1:4 ", "line 18: the example should be clean; the rule speaks in bar 2"),
        ("sub  | F1:4       | A1", "sub  | F1:4 | Q9", "line 13: the example cannot be read"),
    ],
)
def test_a_broken_example_is_named_with_its_line_and_no_half_page_is_shown(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    old: str,
    new: str,
    said: str,
) -> None:
    (tmp_path / "rules").mkdir()
    (tmp_path / "basslint.toml").touch()
    (tmp_path / "rules" / "no-low-a.md").write_text(PAGE.replace(old, new, 1) if old else PAGE)
    monkeypatch.chdir(tmp_path)
    for words in (["rules"], ["explain", "no-low-a"]):
        code, told = main(words), capsys.readouterr()
        assert code == (2 if said else 0), told.err
        assert said in told.err
        assert (told.out == "") == bool(said)
    assert main(["explain", "off-root"]) == 0  # another page than the broken one


def found(path: Path, settings: basslint.Settings | None = None) -> set[tuple[str, int]]:
    (file,) = basslint.check(path, settings=settings).files
    assert not file.faults
    return {(f.rule, f.where.bar) for f in file.findings if f.level != "note"}


def test_the_beat_is_clean_by_the_book() -> None:
    bare = basslint.Settings().with_facts(decay_s=1.2)
    assert found(BEAT, bare) == set()


def test_the_house_rules_speak() -> None:
    flagged = found(BEAT)
    assert {bar for rule, bar in flagged if rule == "no-bass-below-f"} == {1, 5, 9, 13}
    assert {bar for rule, bar in flagged if rule == "rolls-on-triplets"} == {4, 8, 12, 16}
    assert {rule for rule, _ in flagged} == {"no-bass-below-f", "rolls-on-triplets"}


def test_a_song_may_leave_a_family_out(tmp_path: Path) -> None:
    for name in ("basslint.toml", "rules/house/rolls-on-triplets.md"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes((ROOM / name).read_bytes())
    (tmp_path / "sketch-1.mid").write_bytes(BEAT.read_bytes())
    chosen = settings_for(tmp_path / "sketch-1.mid").choose(
        book_for(settings_for(tmp_path / "sketch-1.mid"))
    )
    assert "fill-off-phrase" not in {r.name for r in chosen}
    assert "off-root" in {r.name for r in chosen}


@pytest.mark.parametrize(("rule", "example"), [(r, e) for r in HOUSE for e in r.examples])
def test_house_examples_keep_their_word(rule: Rule, example: Example) -> None:
    beat = compile_beat(example.text)
    settings = basslint.Settings(facts=beat.facts)
    report = check_bytes(beat.data, "example.mid", settings, [rule])
    bars = {f.where.bar for f in report.findings}
    assert (example.bar in bars) if example.flagged else not bars
