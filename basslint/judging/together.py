"""Which findings of a part are reported together, and what mends them all?

A file whose keys are struck double 400 times has one fault, not 400. A page that says so
(``per_part``) is told once for each part, level and kind of fix, with all its places; those that
no fix mends are told with those that one by ear does, or else a safe one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from basslint.fixes.edits import Fix
from basslint.judging.results import Finding
from basslint.util.records import replace

_NO_FIX = ""
_MOST_TITLES = 3  # of fixes that are written out side by side: more fill lines


def joined_by_part(findings: Sequence[Finding], message: Callable[[int], str]) -> list[Finding]:
    """Findings of one rule, joined into one for each part.

    ``message``: what is said of several of which the one at an index is the first, ``{count}``
    standing for how many.
    """
    groups: dict[tuple[object, ...], dict[str, list[int]]] = {}
    for index, finding in enumerate(findings):
        kind = finding.fix.kind if finding.fix else _NO_FIX
        of_kind = groups.setdefault((finding.part, finding.level), {})
        of_kind.setdefault(kind, []).append(index)
    joined: list[Finding] = []
    for group in _by_fix(groups.values()):
        ordered = sorted(group, key=lambda i: findings[i].where.tick)
        those = [findings[i] for i in ordered]
        joined.append(those[0] if len(those) == 1 else _joined(those, message(ordered[0])))
    return joined


def _by_fix(groups: Iterable[dict[str, list[int]]]) -> Iterable[list[int]]:
    """The groups that are told as one each, those without a fix beside those by ear or safe."""
    for of_kind in groups:
        mended = [kind for kind in ("by-ear", "safe") if kind in of_kind]
        if mended and _NO_FIX in of_kind:
            of_kind[mended[0]] += of_kind.pop(_NO_FIX)
        yield from of_kind.values()


def _joined(ordered: Sequence[Finding], message: str) -> Finding:
    """One finding for several, at the place of the first."""
    first = ordered[0]
    return replace(
        first,
        message=message.replace("{count}", str(len(ordered))),
        certainty=min(f.certainty for f in ordered),
        fix=_all_of([f.fix for f in ordered]),
        also=tuple(f.where for f in ordered[1:]),
    )


def _all_of(fixes: Sequence[Fix | None]) -> Fix | None:
    """One fix that does what several of a kind do."""
    # one object for a whole part is told by looking at it, not at its hundreds of edits
    seen = {id(fix): fix for fix in fixes if fix is not None}
    given = list(dict.fromkeys(seen.values()))
    if not given:
        return None
    edits = tuple(dict.fromkeys(edit for fix in given for edit in fix.edits))
    return Fix(_title(given) + _left(sum(fix is None for fix in fixes)), given[0].kind, edits)


def _left(count: int) -> str:
    """What a fix says of those that it does not mend."""
    if not count:
        return ""
    return f"; {count} stay as they are" if count > 1 else "; one stays as it is"


def _title(fixes: Sequence[Fix]) -> str:
    """What several fixes of a kind do: each by itself where they are few, since they may differ."""
    first, more = fixes[0].title, len(fixes) - 1
    titles = list(dict.fromkeys(fix.title for fix in fixes))
    if 1 < len(titles) <= _MOST_TITLES:
        return "; ".join([first, *(title[:1].lower() + title[1:] for title in titles[1:])])
    if not more:
        return first
    return f"{first}; the other {more if more > 1 else 'one'} likewise"
