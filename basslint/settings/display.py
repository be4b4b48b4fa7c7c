"""What holds for a file, and who said so? The words of ``check --show-settings``."""

from __future__ import annotations

from pathlib import Path

from basslint.rulebook.model import Rule
from basslint.settings.model import Settings, shown
from basslint.theory.names import key_name, pitch_name
from basslint.util.records import names_of

# Field of `Facts` -> the name that it has in the settings.
_NAMES = {"decay_s": "decay", "glide_time_s": "glide_time"}


def settings_text(path: Path, settings: Settings, rules: tuple[Rule, ...]) -> str:
    """Every setting in force for a file with its source, then the rules that will run."""
    found = f"settings from {settings.file}" if settings.file else "no settings file above it"
    rows = [(key, value, _source(settings, key)) for key, value in _values(settings)]
    left = max(len(key) for key, _, _ in rows)
    middle = min(40, max(len(value) for _, value, _ in rows))
    lines = [str(path), f"  {found}", ""]
    lines += [f"  {k:<{left}} = {v:<{middle}}  {source}".rstrip() for k, v, source in rows]
    lines += ["", f"  {_run(rules)} on it: {', '.join(r.name for r in rules)}"]
    for waiver in settings.waivers:
        lines.append(f"  waived: {waiver.rule}: {waiver.reason}")
    return "\n".join(lines) + "\n"


def _run(rules: tuple[Rule, ...]) -> str:
    return "1 rule runs" if len(rules) == 1 else f"{len(rules)} rules run"


def _values(settings: Settings) -> list[tuple[str, str]]:
    facts = settings.facts
    key = None if facts.key is None else key_name(facts.key.tonic, facts.key.mode)
    rows: list[tuple[str, object]] = [
        ("gate", settings.gate),
        ("strict", _strict(settings.most_unjudged)),
        ("middle_c", f"C{settings.middle_c}"),
        ("facts.bass", facts.bass or None),
        ("facts.harmony", facts.harmony or None),
        ("facts.key", key),
        ("facts.chords", "; ".join(map(str, facts.chords)) or None),
        ("loop", "; ".join(map(str, facts.loops)) or None),
        ("facts.decay", _time(facts.decay_s)),
        ("facts.sound", facts.sound),
        ("facts.root_key", None if facts.root_key is None else _pitch(facts.root_key, settings)),
        ("facts.transpose", facts.transpose or None),
        ("facts.cents", facts.cents or None),
        ("facts.sounds", _sounds(settings) or None),
        ("facts.bend_range", facts.bend_range),
        ("facts.glide_time", _time(facts.glide_s)),
        ("facts.one_shot", facts.one_shot),
    ]
    rows += [
        (f"limits.{name}", getattr(settings.limits, name)) for name in names_of(settings.limits)
    ]
    rows += [("plug_ins", settings.plug_ins)] if settings.plug_ins else []
    rows += [("house rules", str(folder)) for folder in settings.house]
    said = {s.key: s.value for s in settings.stated if s.key.startswith("rules.")}
    return [
        *((k, "not stated" if v is None else shown(v)) for k, v in rows),
        *said.items(),
    ]


def _sounds(settings: Settings) -> dict[str, object]:
    return {
        s.part: s.file
        if s.root_key is None
        else {"file": s.file, "root_key": _pitch(s.root_key, settings)}
        for s in settings.part_sounds
    }


def _pitch(pitch: float, settings: Settings) -> str:
    return pitch_name(round(pitch), middle_c=settings.middle_c)


def _strict(share: float | None) -> object:
    return False if share is None else {"most_unjudged": share}


def _time(seconds: float | None) -> str | None:
    return None if seconds is None else f"{1000 * seconds:g}ms"


def _source(settings: Settings, key: str) -> str:
    """Who said it last."""
    said = [s.source for s in settings.stated if _plain(s.key) == key]
    return said[-1] if said else "default"


def _plain(key: str) -> str:
    if key == "facts.loops":  # of a table of its own
        return "loop"
    head, _, name = key.partition(".")
    return f"{head}.{_NAMES[name]}" if name in _NAMES else key
