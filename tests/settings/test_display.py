"""``check --show-settings``: each fact as it was said, or that nobody stated it."""

from __future__ import annotations

from pathlib import Path

import pytest
from settled import settled

from basslint.settings.display import settings_text
from basslint.settings.model import Settings

SONG = Path("a.mid")


def shown(settings: Settings) -> dict[str, str]:
    """The values by their names."""
    rows = [line.split(" = ", 1) for line in settings_text(SONG, settings, ()).splitlines()[3:-2]]
    return {name.strip(): said.rpartition("  ")[0].strip() for name, said in rows}


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ('[facts]\nbass = "Sub"', "facts.bass", '["Sub"]'),
        ('[facts]\nharmony = ["Keys", "#3"]', "facts.harmony", '["Keys", "#3"]'),
        ('[facts]\nkey = "F# minor"', "facts.key", '"F# minor"'),
        ('[facts]\nchords = "Dm Bb*2"', "facts.chords", '"Dm Bb*2"'),
        ('[facts]\ndecay = "0.6s"', "facts.decay", '"600ms"'),
        ('[facts]\nroot_key = "F#1"', "facts.root_key", '"F#1"'),
        ('middle_c = "C3"\n[facts]\nroot_key = "C3"', "facts.root_key", '"C3"'),  # as it was said
        ("[facts]\ntranspose = -6", "facts.transpose", "-6.0"),
        ("[facts]\ncents = 14", "facts.cents", "14.0"),
        ("[facts]\nbend_range = 12", "facts.bend_range", "12.0"),
        ('[facts]\nglide_time = "0.2s"', "facts.glide_time", '"200ms"'),
        ("[facts]\none_shot = true", "facts.one_shot", "true"),
        ('middle_c = "C5"', "middle_c", '"C5"'),
        ("strict = true", "strict", "{ most_unjudged = 0.5 }"),
        ('plug_ins = ["night-rules"]', "plug_ins", '["night-rules"]'),
        ("[rules]\noff-root = false", "rules.off-root", "false"),
        ('[rules]\noff-root = { level = "note" }', "rules.off-root", '{ level = "note" }'),
    ],
)
def test_what_is_stated_is_shown_with_where_it_stands(
    tmp_path: Path, text: str, name: str, value: str
) -> None:
    held = settled(tmp_path, text)
    assert shown(held)[name] == value
    (line,) = (row for row in settings_text(SONG, held, ()).splitlines() if f" {name} " in row)
    assert line.endswith(str(tmp_path / "basslint.toml"))


def test_files_that_are_named_are_shown_by_their_paths(tmp_path: Path) -> None:
    (tmp_path / "sub.wav").touch()
    sub = tmp_path / "sub.wav"
    told = shown(settled(tmp_path, '[facts]\nsound = "sub.wav"\nsounds = { Reese = "sub.wav" }'))
    assert "house rules" not in told
    assert told["facts.sound"] == f'"{sub}"' and told["facts.sounds"] == f'{{ Reese = "{sub}" }}'
    (tmp_path / "rules").mkdir()
    assert shown(settled(tmp_path, "# ours"))["house rules"] == f'"{tmp_path / "rules"}"'


def test_what_holds_where_nobody_said_anything() -> None:
    told = shown(Settings())
    unsaid = {name for name, value in told.items() if value == "not stated"}
    assert unsaid == {
        "facts.bass", "facts.harmony", "facts.key", "facts.chords", "loop", "facts.decay",
        "facts.sound", "facts.root_key", "facts.transpose", "facts.cents", "facts.sounds",
        "facts.bend_range",
    }  # fmt: skip
    held = {n: v for n, v in told.items() if n not in unsaid and not n.startswith("limits.")}
    assert held == {
        "gate": '"error"', "strict": "false", "middle_c": '"C4"', "facts.glide_time": '"100ms"',
        "facts.one_shot": "false",
    }  # fmt: skip
