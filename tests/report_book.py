"""Rules made by hand for the tests of the reports, which only print them."""

from __future__ import annotations

from basslint.rulebook.model import Parameter, Rule


def rule(name: str = "off-root", family: str = "harmony", **more: object) -> Rule:
    """A rule page of the name, without conditions: reports only print it."""
    usual: dict[str, object] = {
        "name": name,
        "family": family,
        "level": "error",
        "judges": "bass-note",
        "summary": "A bass note is neither the root nor part of a pattern",
        "cases": (),
        "needs": (("root", None),),
        "because": (),
        "parameters": (Parameter("least_beats", 0.5, "beats", "Shorter notes pass by."),),
        "body": BODY,
        "path": f"rules/{family}/{name}.md",
        "origin": "built in",
    }
    return Rule(**{**usual, **more})  # type: ignore[arg-type]


BODY = """## What you hear
The low end *leans* against the chord.

## A flagged example
```beat flagged bar 2
tempo 140
keys | E3+G3+B3:4 |*4
sub  | E1:4 | F#1:4 | E1:4 | E1:4 |
```

## Sources
Common practice, no source.
"""


def book() -> tuple[Rule, ...]:
    """Rules for the findings of `full_report`, and one that finds nothing."""
    return (
        rule(),
        rule("too-low", "low-end", level="warning", summary="A note lies below what sounds"),
        rule("no-meter", "housekeeping", level="note", judges="song", origin="house"),
        rule("slide-after-decay", "slides", judges="slide", origin="plug-in night"),
        rule("outside-scale"),
    )
