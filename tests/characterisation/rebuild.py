"""Stores anew what is heard and found: ``python tests/characterisation/rebuild.py``.

It prints what is answered otherwise than before, by file and question. Read that before the digests
are committed: every line is music that is heard in another way, and the commit says why.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from characterisation.net import (  # noqa: E402  # the folders must be known first
    DATA,
    QUESTIONS,
    cases,
    changed,
    data_folder,
    digests,
    read_store,
    write_store,
)


def main() -> int:
    if data_folder() is None:
        print(f"The data is not here; say where with {DATA}=FOLDER. Nothing was stored.")
        return 2
    was = read_store()
    now = {}
    seen: Counter[str] = Counter()
    for case in cases():
        now[case.name] = digests(*case.read())
        if case.name not in was:
            print(f"{case.name}: new")
            continue
        other = changed(was[case.name], now[case.name])
        if not other:
            now[case.name] = was[case.name]  # the last bits of this machine are no change
            continue
        seen.update(other)
        print(f"{case.name}: {', '.join(other)}")
    for name in was.keys() - now.keys():
        print(f"{name}: gone")
    write_store(now)
    told = ", ".join(f"{q} in {seen[q]}" for q in ("file", *QUESTIONS) if seen[q])
    print(f"{len(now)} files; changed: {told or 'nothing'}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
