"""Which findings are one fault that repeats, and where does it stand?"""

from __future__ import annotations

from collections.abc import Sequence

from basslint.judging.fingerprint import measureless
from basslint.judging.results import Finding
from basslint.report.drawing import marks
from basslint.util.records import record

MOST_DRAWN = 100  # strips in the text on one file: nobody reads more, and each takes milliseconds
UNDRAWN = "The strips of what follows are not drawn."


@record
class Group:
    """Findings of one cause in one file, in order of place; the first speaks for all.

    ``rows``: where each stands among the findings that were grouped.
    """

    findings: tuple[Finding, ...]
    rows: tuple[int, ...]

    @property
    def first(self) -> Finding:
        """The finding that is drawn."""
        return self.findings[0]


def grouped(findings: Sequence[Finding], apart: Sequence[str] = ()) -> list[Group]:
    """Join findings of one cause, rule and fix, whatever was measured of each.

    Waived and unwaived ones are kept apart, and those for which ``apart`` (by row) holds different
    words.
    """
    groups: dict[tuple[str, ...], list[int]] = {}
    for row, finding in enumerate(findings):
        cause = finding.cause or f"#{row}"
        fix = (finding.fix.kind, measureless(finding.fix.title)) if finding.fix else ()
        other = apart[row] if apart else ""
        key = (finding.rule, finding.level, finding.waived or "", other, cause, *fix)
        groups.setdefault(key, []).append(row)
    return [Group(tuple(findings[r] for r in g), tuple(g)) for g in groups.values()]


def place(group: Group) -> str:
    """``bars 5 and 13, beat 1``; ``8 times, bars 5 and 13`` where a bar has several."""
    first = group.first
    if first.whole:
        return "whole song"
    places = [where for f in group.findings for where in f.places]
    if len(places) == 1:
        return marks.spot(first.where.bar, first.where.beat, first.where.beats)
    ahead = [marks.is_ahead(where.beat, where.beats) for where in places]
    bars = sorted({where.bar + early for where, early in zip(places, ahead, strict=True)})
    beats = {round(where.beat, 2) for where in places}
    words = marks.bar_list([(b, b + 1) for b in bars])
    if all(ahead):
        return f"just before {words}"
    if len(places) > len(bars):
        words = f"{len(places)} times, {words}"
    if len(beats) > 1:
        return words
    spot = marks.spot(0, first.where.beat, first.where.beats)
    return f"{words}, {spot.removeprefix('bar 0, ')}"


def todo(groups: Sequence[Group]) -> str:
    """What to do about a song, in one line; empty where nothing is.

    Counts of a run are of findings, of which several may be one thing.
    """
    standing = [g for g in groups if g.first.waived is None]
    open_ = [g.first for g in standing]
    if not open_:
        return ""
    findings = sum(len(g.findings) for g in standing)
    safe = sum(1 for f in open_ if f.fix is not None and f.fix.kind == "safe")
    ear = sum(1 for f in open_ if f.fix is not None and f.fix.kind == "by-ear")
    rest = len(open_) - safe - ear
    words = [
        f"{safe} {'is' if safe == 1 else 'are'} mended safely" if safe else "",
        f"{ear} by ear" if ear else "",
        f"{rest} by hand" if rest else "",
    ]
    parts = [w for w in words if w]
    among = f" in {findings:,} findings" if findings > len(open_) else ""
    return f"{marks.counted(len(open_), 'thing')}{among}: {', '.join(parts)}"


def finding_ids(song: str, groups: Sequence[Group]) -> list[str]:
    """Anchors of groups, the same from run to run: of their first findings' fingerprints."""
    taken: dict[str, int] = {}
    ids = []
    for group in groups:
        name = f"{song}-{group.first.fingerprint[:10] or group.first.rule}"
        count = taken[name] = taken.get(name, 0) + 1
        ids.append(name if count == 1 else f"{name}-{count}")
    return ids
