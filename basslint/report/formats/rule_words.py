"""What does a rule judge, need and measure by, in words?"""

from __future__ import annotations

from basslint.readings.needs import FACTS
from basslint.report.drawing import marks
from basslint.rulebook.model import Level, Rule


def rule_lines(rule: Rule) -> list[str]:
    """What a rule judges, needs and measures by, a line for each."""
    lines = [f"judges every {rule.judges.replace('-', ' ')}"]
    levels: list[Level] = [c.level for c in rule.cases if c.level != rule.level]
    if levels:
        lines[0] += f"; at times only {' or '.join(dict.fromkeys(_a(level) for level in levels))}"
    for fact, least in rule.needs:
        share = FACTS[fact].least if least is None else least
        lines.append(f"needs {FACTS[fact].meaning}, {marks.percent(share)} sure")
    if rule.because:
        lines.append(f"silent where {' or '.join(rule.because)} already speaks of the note")
    return lines + [
        f"{p.name} = {marks.number(p.default, 4)} ({p.unit}): {p.reason}" for p in rule.parameters
    ]


def _a(level: Level) -> str:
    return f"{'an' if level == 'error' else 'a'} {level}"
