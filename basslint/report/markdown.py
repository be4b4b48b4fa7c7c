"""The report as Markdown, short enough for a comment on a change request."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePath

from basslint.findings import LEVELS, FileReport, Level, Report
from basslint.report.grouping import Group, grouped, place
from basslint.report.marks import LEVEL_MARKS, WAIVED, counted
from basslint.rule import Rule

MOST_FILES = 50  # rows of the table
MOST_GROUPS = 40  # findings that are told; a comment that nobody reads to the end helps nobody
LONGEST = 60_000  # characters; code hosts take comments of about 65,000

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>|~!])")
_JOINER = "\N{WORD JOINER}"  # invisible; an entity would not do, hosts link after decoding
_REFERENCE = re.compile(r"(?<!\w)#(?=\d)")


def report_markdown(report: Report, rules: Sequence[Rule]) -> str:
    """A run as a comment: a summary table, then findings, the gravest first."""
    lines = [f"### basslint: {_headline(report)}", ""]
    lines += _table(report)
    lines += _findings(report)
    lines += _unreadable(report.files)
    lines += _unjudged(report.files)
    lines += _rules(report, rules)
    lines += [f"- {escaped(r)}" for r in report.remarks]
    text = "\n".join(lines).rstrip() + "\n"
    if len(text) > LONGEST:
        cut = text.rfind("\n", 0, LONGEST)
        text = text[:cut] + "\n\n…the rest is left away; run basslint to see it all.\n"
    return text


def escaped(text: str) -> str:
    """A text from a file or a page that Markdown shows and does not obey: no markup, no HTML, no
    mention, no reference, no link, no line break."""
    text = _SPECIAL.sub(r"\\\1", " ".join(text.split()))
    text = _REFERENCE.sub(f"#{_JOINER}", text).replace("@", f"@{_JOINER}")
    return text.replace("://", f":{_JOINER}//").replace("www.", f"www{_JOINER}.")


def _headline(report: Report) -> str:
    words = [counted(report.count(level), level) for level in LEVELS if report.count(level)]
    if report.unreadable:
        words.append(f"{counted(report.unreadable, 'file')} not readable")
    return ", ".join(words) or "nothing is off"


def _table(report: Report) -> list[str]:
    """Files with something to say; the clean ones are counted."""
    rows = [f for f in report.files if f.findings or f.problem or f.faults]
    clean = len(report.files) - len(rows)
    if not rows:
        return [f"{counted(len(report.files), 'file')} checked.", ""]
    head = " | ".join(f"{LEVEL_MARKS[level].sign} {level}s" for level in LEVELS)
    lines = [f"| file | {head} | {WAIVED.word} |", "| --- | ---: | ---: | ---: | ---: |"]
    for file in rows[:MOST_FILES]:
        name = _code(PurePath(file.path).as_posix())
        if file.problem is not None:
            lines.append(f"| {name} | not readable | | | |")
            continue
        counts = [str(_count(file, level)) for level in LEVELS]
        waived = sum(1 for f in file.findings if f.waived is not None)
        lines.append(f"| {name} | {' | '.join(counts)} | {waived} |")
    if len(rows) > MOST_FILES:
        lines += ["", f"…and {counted(len(rows) - MOST_FILES, 'more file')} with findings."]
    if clean:
        lines += ["", f"{counted(clean, 'more file')} checked; nothing is off there."]
    return [*lines, ""]


def _count(file: FileReport, level: Level) -> int:
    return sum(1 for f in file.findings if f.level == level and f.waived is None)


def _code(text: str) -> str:
    """A path as inline code, whatever backticks and bars it holds."""
    text = " ".join(text.split()).replace("|", "\\|")
    fence = "`" * (max((len(r) for r in re.findall(r"`+", text)), default=0) + 1)
    pad = " " if text.startswith("`") or text.endswith("`") else ""
    return f"{fence}{pad}{text}{pad}{fence}"


def _findings(report: Report) -> list[str]:
    entries: list[tuple[str, Group]] = []
    for file in report.files:
        standing = [f for f in file.findings if f.waived is None]
        entries += [(PurePath(file.path).as_posix(), g) for g in grouped(standing)]
    entries.sort(key=lambda e: LEVELS.index(e[1].first.level))  # stable: order of place is kept
    lines: list[str] = []
    many = len(report.files) > 1
    for path, group in entries[:MOST_GROUPS]:
        first = group.first
        mark = LEVEL_MARKS[first.level]
        spot = f"{_code(path)} {place(group)}" if many else place(group)
        line = f"- {mark.sign} **{mark.word}** {spot}: {escaped(first.message)}"
        if first.fix is not None:
            kind = "safe" if first.fix.kind == "safe" else "by ear"
            line += f" **Fix** ({kind}): {escaped(first.fix.title)}."
        lines.append(f"{line} <sub>{escaped(first.rule)}</sub>")
    if len(entries) > MOST_GROUPS:
        lines.append(f"- …and {counted(len(entries) - MOST_GROUPS, 'more finding')}.")
    return [*lines, ""] if lines else []


def _unreadable(files: Sequence[FileReport]) -> list[str]:
    lines = [
        f"- {_code(PurePath(f.path).as_posix())} could not be read: {escaped(f.problem.message)} "
        f"{escaped(f.problem.advice)}".rstrip()
        for f in files
        if f.problem is not None
    ]
    lines += [f"- basslint's own fault: {escaped(x)}" for f in files for x in f.faults]
    return [*lines, ""] if lines else []


def _unjudged(files: Sequence[FileReport]) -> list[str]:
    """How much was not judged and why, folded away."""
    reasons: dict[str, set[str]] = {}
    for file in files:
        for entry in file.unjudged:
            reasons.setdefault(entry.reason, set()).add(entry.rule)
    if not reasons:
        return []
    lines = [
        f"- {escaped(', '.join(sorted(rules)))}: {escaped(reason)}"
        for reason, rules in reasons.items()
    ]
    return ["<details><summary>Not judged in places</summary>", "", *lines, "", "</details>", ""]


def _rules(report: Report, rules: Sequence[Rule]) -> list[str]:
    """What the rules that spoke are about, folded away."""
    spoke = {x.rule for f in report.files for x in f.findings if x.waived is None}
    lines = [
        f"- **{escaped(r.name)}**: {escaped(r.summary)} (`basslint explain {escaped(r.name)}`)"
        for r in rules
        if r.name in spoke
    ]
    if not lines:
        return []
    return ["<details><summary>What the rules hear</summary>", "", *lines, "", "</details>", ""]
