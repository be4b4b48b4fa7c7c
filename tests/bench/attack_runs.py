"""Is anything torn, lost or orphaned when runs are killed, or when many change one file at once?"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from attack_cases import ROOT, WHOLE, run

SAMPLE = (ROOT / "samples" / "spilled-tea.mid").read_bytes()
SONGS, ANEW_EVERY = 24, 24  # settings grow with every run that accepts: begun anew so often
BASSLINT = (sys.executable, "-m", "basslint")
OURS = "# ours\n"
REPORT, COPY = "r.json", "m.mid"
_CHECK = ("check", "beats", "--jobs", "2", "--format", "json", "--output", REPORT)
COMMANDS = {
    "check": _CHECK,
    "check anew": (*_CHECK, "--no-cache"),  # the cache answers nearly before a kill can be sent
    "mend": ("mend", "beats/0.mid", "--by-ear", "--output", COPY),
    "mend in place": ("mend", "beats/1.mid", "--by-ear", "--in-place"),
    "waive": ("waive", "tea.mid", "off-root", "--reason", "x"),
    "accept": ("accept", "beats", "--jobs", "2", "--reason", "x"),
    "watch": ("watch", "beats", "--no-open", "--text"),
}
WATCHED_S = 6.0  # a run that follows a folder never ends by itself


@dataclass(slots=True)
class House:
    """A folder of songs with settings, and what may stand in it."""

    folder: Path
    env: dict[str, str]

    def begin_anew(self) -> None:
        """All songs as they were, no waiver, no report."""
        (self.folder / "beats").mkdir(exist_ok=True)
        for n in range(SONGS):
            (self.folder / "beats" / f"{n}.mid").write_bytes(WHOLE[n % len(WHOLE)].data)
        (self.folder / "tea.mid").write_bytes(SAMPLE)
        (self.folder / "basslint.toml").write_text(OURS)

    def begun(self, name: str) -> subprocess.Popen[bytes]:
        """A command as a session of its own."""
        return subprocess.Popen(
            [*BASSLINT, *COMMANDS[name]],
            cwd=self.folder,
            env=self.env,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )

    def waivers(self) -> list[dict[str, object]]:
        """The waivers that stand. Raises `ValueError` where the settings are torn."""
        text = (self.folder / "basslint.toml").read_text("utf-8")
        if not text.startswith(OURS):
            raise ValueError("the owner's line is lost")
        return list(tomllib.loads(text).get("waive", []))


@contextlib.contextmanager
def house() -> Iterator[House]:
    """A house for a while."""
    with tempfile.TemporaryDirectory(prefix="attack-runs-") as name:
        folder = Path(name)
        env = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), "PYTHONPATH": str(ROOT)}
        made = House(folder, env)
        made.begin_anew()
        yield made


def kills(count: int, seed: int) -> list[str]:
    """Runs that are ended at random moments of their life, by SIGTERM and SIGKILL in turn."""
    rng, bad = random.Random(seed), []
    ended: Counter[str] = Counter()
    with house() as home:
        longest = {name: _length(home, name) for name in COMMANDS}
        home.begin_anew()
        for n in range(count):
            if n % ANEW_EVERY == 0:
                home.begin_anew()
            name = rng.choice(tuple(COMMANDS))
            sent = signal.SIGKILL if n % 2 else signal.SIGTERM
            before = home.waivers()
            process = home.begun(name)
            time.sleep(rng.random() * longest[name])
            in_time = process.poll() is None
            process.send_signal(sent)
            why = [*_orphans(process), *_harm(home, name, before, sent)]
            fine = [0, 1, 143, -signal.SIGTERM]
            if name == "waive" and any(w.get("song") == "tea.mid" for w in before):
                fine.append(2)  # it is waived already, which is said
            if sent == signal.SIGTERM and process.returncode not in fine:
                why.append(f"it ended with {process.returncode}")
            bad += [f"kill {n}, {name}, {sent.name}: {each}" for each in why]
            ended[f"{name} {sent.name}{'' if in_time else ' too late'}"] += 1
    print(f"killed: {dict(sorted(ended.items()))}")
    return bad


def _length(home: House, name: str) -> float:
    """How long a command takes when it is let be."""
    if name == "watch":
        return WATCHED_S
    begin = time.monotonic()
    home.begun(name).communicate()
    return time.monotonic() - begin


def _orphans(process: subprocess.Popen[bytes]) -> Iterator[str]:
    """Whether its output is held open, or processes of its session live on."""
    try:
        process.communicate(timeout=20)  # ends when nobody holds its output any more
    except subprocess.TimeoutExpired:
        yield "its output is held open"
        process.kill()
    if left := _left_in(process.pid):
        yield f"left behind {left}"


def _left_in(session: int) -> list[int]:
    """Processes of a session that still live, given a moment to end."""
    left: list[int] = []
    for _ in range(100):
        left = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            with contextlib.suppress(OSError):
                state, _, _, own = stat.read_text().rpartition(")")[2].split()[:4]
                if int(own) == session and state != "Z":
                    left.append(int(stat.parent.name))
        if not left:
            break
        time.sleep(0.05)
    return left


def _harm(home: House, name: str, before: list[dict[str, object]], sent: int) -> Iterator[str]:
    """What is torn or lost in a house, and what lies about that should not."""
    report = home.folder / REPORT
    if report.exists():
        try:
            json.loads(report.read_text("utf-8"))
        except ValueError:
            yield "a torn report"
        report.unlink()
    try:
        now = home.waivers()
        if any(waiver not in now for waiver in before):
            yield "a lost waiver"
        if name not in ("waive", "accept") and now != before:
            yield "settings that nobody changed are others"
    except ValueError as error:
        yield f"torn settings: {error}"
    for song in (home.folder / COPY, home.folder / "beats" / "1.mid"):
        if song.exists() and run(["chart", str(song)])[0] != 0:
            yield f"a torn song {song.name}"
    for n in range(SONGS):
        data = (home.folder / "beats" / f"{n}.mid").read_bytes()
        if n != 1 and data != WHOLE[n % len(WHOLE)].data:
            yield f"song {n} was changed"
    half = [p for p in home.folder.rglob(".*.tmp") if "cache" not in p.parts]
    if half and sent == signal.SIGTERM:
        yield f"half a file: {half[0].name}"
    for path in half:
        path.unlink()


def waives(count: int, _seed: int = 0) -> list[str]:
    """So many waivers at once, each of a song of its own, each by a process of its own."""
    with house() as home:
        for n in range(count):
            (home.folder / f"{n}.mid").write_bytes(SAMPLE)
        running = [
            subprocess.Popen(
                [*BASSLINT, "waive", f"{n}.mid", "off-root", "--reason", "x"],
                cwd=home.folder,
                env=home.env,
                stdout=subprocess.DEVNULL,
            )
            for n in range(count)
        ]
        failed = sum(process.wait() != 0 for process in running)
        listed = {w["song"] for w in home.waivers()}
    lost = sum(f"{n}.mid" not in listed for n in range(count))
    return [f"waives: {failed} failed, {lost} of {count} lost"] if failed or lost else []
