"""Do the examples of a house's or a plug-in's page show what the page says?

Asked only where pages are shown: running them would cost every check its quick start. The built-in
pages are held by the tests.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from basslint.errors import BasslintError, RuleError
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.rulebook.model import Example, Rule
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build


def check_examples(rules: Iterable[Rule]) -> None:
    """Run the examples of all pages that are not built in, each by its own page alone.

    Raises `RuleError` with page and line for one that cannot be read, that is flagged and not
    found fault with in its bar, or that is clean and found fault with.
    """
    for rule in rules:
        if rule.origin == "built in":
            continue
        for nth, example in enumerate(rule.examples):
            wrong, advice = _wrong(rule, example)
            if wrong:
                line = _line(rule, nth)
                raise RuleError(f"{rule.path}, line {line}: the example {wrong}", advice)


def _wrong(rule: Rule, example: Example) -> tuple[str, str]:
    """What is wrong with an example and what to do; empty where nothing is."""
    try:
        beat = compile_beat(example.text)
        verdict = judge(Chart(build(scan(beat.data)), beat.facts), (rule,))
    except BasslintError as error:
        return f"cannot be read: {error.message}", error.advice
    if verdict.faults:
        return f"makes the rule fail: {verdict.faults[0]}.", "Mend the page."
    bars = sorted({f.where.bar for f in verdict.findings})
    places = f"in bar {', '.join(map(str, bars))}" if bars else "nowhere"
    if example.flagged and (example.bar not in bars if example.bar else not bars):
        where = f" in bar {example.bar}" if example.bar else ""
        return f"should be flagged{where}; the rule speaks {places}.", "Mend the beat or the rule."
    if not example.flagged and bars:
        return f"should be clean; the rule speaks {places}.", "Mend the beat or the rule."
    return "", ""


def _line(rule: Rule, nth: int) -> int:
    """The line of the page, from 1, on which the beat of its nth example begins."""
    lines = Path(rule.path).read_text(encoding="utf-8").splitlines()
    fences = [number for number, line in enumerate(lines, start=1) if line.startswith("```beat")]
    return fences[nth] + 1 if nth < len(fences) else 1
