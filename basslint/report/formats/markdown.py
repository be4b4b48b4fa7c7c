"""The report as Markdown, short enough for a comment on a change request."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import PurePath

from basslint.judging.results import FileReport, Report
from basslint.report.drawing.marks import LEVEL_MARKS, WAIVED, counted
from basslint.report.section import (
    Entry,
    Run,
    Section,
    Sheet,
    section_of,
    total,
    unreadable,
)
from basslint.rulebook.model import LEVELS, Rule
from basslint.util.text import LONGEST_PATH, harmless, visible

MOST_FILES = 50  # rows of the table
MOST_GROUPS = 40  # findings that are told; a comment that nobody reads to the end helps nobody
LONGEST = 60_000  # characters; code hosts take comments of about 65,000

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>|~!])")
_JOINER = "\N{WORD JOINER}"  # invisible; an entity would not do, hosts link after decoding
_REFERENCE = re.compile(r"(?<!\w)#(?=\d)")


def report_markdown(report: Report, rules: Sequence[Rule]) -> str:
    """A run as a comment: a summary table, then findings, the gravest first."""
    sections = [section(f, rules, Sheet()) for f in report.files]
    return "".join(assemble(sections, Run(tuple(rules), report.remarks)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One file's findings as entries to be sorted; its text is what kept it from being checked."""
    from basslint.report.grouping import grouped, place  # a song that is known already has entries

    entries = []
    for group in grouped([f for f in file.findings if f.waived is None]):
        first = group.first
        mark = LEVEL_MARKS[first.level]
        rest = f"{place(group)}: {escaped(first.message)}"
        if first.fix is not None:
            kind = "safe" if first.fix.kind == "safe" else "by ear"
            rest += f" **Fix** ({kind}): {escaped(first.fix.title).rstrip('.')}."
        rest += f" <sub>{escaped(first.rule)}</sub>"
        entries.append(Entry(LEVELS.index(first.level), f"- {mark.sign} **{mark.word}** ", rest))
    return section_of(file, sheet, "", entries=entries)


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The comment, cut where hosts would cut it."""
    lines = [f"### basslint: {_headline(sections)}", ""]
    lines += _table(sections)
    lines += _findings(sections)
    lines += _unreadable(sections)
    lines += _unjudged(sections)
    lines += _rules(sections, run.rules)
    lines += [f"- {escaped(r)}" for r in run.remarks]
    text = "\n".join(lines).rstrip() + "\n"
    if len(text) > LONGEST:
        cut = text.rfind("\n", 0, LONGEST)
        text = text[:cut] + "\n\n…the rest is left away; run basslint to see it all.\n"
    yield text


def escaped(text: str) -> str:
    """A text from a file or a page that Markdown shows and does not obey: no markup, no HTML, no
    mention, no reference, no link, no line break."""
    text = _SPECIAL.sub(r"\\\1", harmless(" ".join(text.split())))
    text = _REFERENCE.sub(f"#{_JOINER}", text).replace("@", f"@{_JOINER}")
    return text.replace("://", f":{_JOINER}//").replace("www.", f"www{_JOINER}.")


def _headline(sections: Sequence[Section]) -> str:
    tally, broken = total(sections), unreadable(sections)
    words = [counted(tally.of(level), level) for level in LEVELS if tally.of(level)]
    if broken:
        words.append(f"{counted(broken, 'file')} not readable")
    not_judged = [s for s in sections if s.bassless]
    if len(not_judged) == 1:
        rules = counted(not_judged[0].bassless, "rule")
        what = "" if len(sections) == 1 else " in 1 file"
        words.append(f"no bass part was found{what}, so {rules} did not judge")
    elif not_judged:
        words.append(f"no bass part was found in {len(not_judged)} files")
    unsung = sum(1 for s in sections if s.rootless)
    if unsung:
        what = "" if len(sections) == 1 else f" in {counted(unsung, 'file')}"
        words.append(f"roots were hardly judged, or not at all{what}")
    return ", ".join(words) or "nothing is off"


def _table(sections: Sequence[Section]) -> list[str]:
    """Files with something to say; the clean ones are counted."""
    rows = [s for s in sections if s.named or s.problem or s.faults or s.bassless or s.rootless]
    clean = len(sections) - len(rows)
    if not rows:
        return [f"{counted(len(sections), 'file')} checked.", ""]
    head = " | ".join(f"{LEVEL_MARKS[level].sign} {level}s" for level in LEVELS)
    lines = [f"| file | {head} | {WAIVED.word} |", "| --- | ---: | ---: | ---: | ---: |"]
    for row in rows[:MOST_FILES]:
        name = _code(PurePath(row.path).as_posix())
        if row.problem is not None:
            lines.append(f"| {name} | not readable | | | |")
            continue
        if row.bassless:
            name += " (no bass part found)"
        if row.rootless:
            name += f" ({row.rootless})"
        counts = [str(row.tally.of(level)) for level in LEVELS]
        lines.append(f"| {name} | {' | '.join(counts)} | {row.tally.waived} |")
    if len(rows) > MOST_FILES:
        lines += ["", f"…and {counted(len(rows) - MOST_FILES, 'more file')} with findings."]
    if clean:
        lines += ["", f"{counted(clean, 'more file')} checked; nothing is off there."]
    return [*lines, ""]


def _code(text: str) -> str:
    """A path as inline code, whatever backticks and bars it holds."""
    text = visible(" ".join(text.split()), LONGEST_PATH).replace("|", "\\|")
    fence = "`" * (max((len(r) for r in re.findall(r"`+", text)), default=0) + 1)
    pad = " " if text.startswith("`") or text.endswith("`") else ""
    return f"{fence}{pad}{text}{pad}{fence}"


def _findings(sections: Sequence[Section]) -> list[str]:
    entries = [(s.path, e) for s in sections for e in s.entries]
    entries.sort(key=lambda e: e[1].rank)  # stable: order of place is kept
    many = len(sections) > 1
    lines = [
        e.lead + (f"{_code(PurePath(path).as_posix())} " if many else "") + e.rest
        for path, e in entries[:MOST_GROUPS]
    ]
    if len(entries) > MOST_GROUPS:
        lines.append(f"- …and {counted(len(entries) - MOST_GROUPS, 'more finding')}.")
    return [*lines, ""] if lines else []


def _unreadable(sections: Sequence[Section]) -> list[str]:
    lines = [
        f"- {_code(PurePath(s.path).as_posix())} {s.problem.verdict}: {escaped(s.problem.words)}"
        for s in sections
        if s.problem is not None
    ]
    lines += [f"- basslint's own fault: {escaped(x)}" for s in sections for x in s.faults]
    return [*lines, ""] if lines else []


def _unjudged(sections: Sequence[Section]) -> list[str]:
    """How much was not judged and why, folded away."""
    reasons: dict[str, set[str]] = {}
    for entry in (u for s in sections for u in s.unjudged):
        reasons.setdefault(entry.reason, set()).add(entry.rule)
    if not reasons:
        return []
    lines = [
        f"- {escaped(', '.join(sorted(rules)))}: {escaped(reason)}"
        for reason, rules in reasons.items()
    ]
    return ["<details><summary>Not judged in places</summary>", "", *lines, "", "</details>", ""]


def _rules(sections: Sequence[Section], rules: Sequence[Rule]) -> list[str]:
    """What the rules that spoke are about, folded away."""
    spoke = {name for s in sections for name in s.spoke}
    lines = [
        f"- **{escaped(r.name)}**: {escaped(r.summary)} (`basslint explain {escaped(r.name)}`)"
        for r in rules
        if r.name in spoke
    ]
    if not lines:
        return []
    return ["<details><summary>What the rules hear</summary>", "", *lines, "", "</details>", ""]
