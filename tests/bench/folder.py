"""What a folder of pages costs: wall and processor seconds, and the memory of all processes.

    python tests/bench/folder.py FOLDER…

The songs of the folders are written as pages into a folder of their own, nothing from the cache.
Memory is the share that each process has of what is in memory (shared pages are counted once),
summed over all processes, ten times a second; its peak is told.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

STEP_S = 0.1


def shares(pid: int) -> list[int]:
    """Bytes in memory of a process and of those that it has started, shared ones in shares."""
    with contextlib.suppress(OSError):
        rows = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        own = sum(1024 * int(row.split()[1]) for row in rows if row.startswith("Pss:"))
        below = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        return [own, *(size for child in below for size in shares(int(child)))]
    return []


def main(folders: list[str]) -> None:
    target = tempfile.mkdtemp()
    command = [sys.executable, "-m", "basslint", "check", *folders]
    command += ["--no-cache", "--format", "html", "--output", f"{target}/"]
    load, before, at = os.getloadavg()[0], os.times(), time.monotonic()
    process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    most: list[int] = []
    while process.poll() is None:
        most = max(most, shares(process.pid), key=sum)
        time.sleep(STEP_S)
    took, after = time.monotonic() - at, os.times()
    spent = after.children_user + after.children_system
    spent -= before.children_user + before.children_system
    pages = [p.stat().st_size for p in Path(target).iterdir()]
    print(
        f"{len(pages)} pages of {sum(pages) / 1e6:.0f} MB, exit code {process.returncode}: "
        f"{took:.1f} s, {spent:.1f} s of processor time (load before {load:.1f})"
    )
    each = " + ".join(f"{size / 1e6:.0f}" for size in most)
    print(f"memory at its peak {sum(most) / 1e6:.0f} MB: {each}")


if __name__ == "__main__":
    main(sys.argv[1:])
