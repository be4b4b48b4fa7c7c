"""Did an error only wrap what ended the work?"""

from __future__ import annotations


def stopped_by(error: BaseException) -> BaseException | None:
    """What ended the work, where an error came out of it: an interrupt, a signal, a time that ran
    out; None for an error by itself.

    These are no `Exception`, so that no guard takes them. But while a class is made Python 3.11
    wraps whatever is raised in a `RuntimeError`, and an import may make one at any moment.
    """
    seen: set[int] = set()
    at: BaseException | None = error
    while at is not None and id(at) not in seen:
        if not isinstance(at, (Exception, GeneratorExit)):
            return at
        seen.add(id(at))
        at = at.__cause__ or at.__context__
    return None
