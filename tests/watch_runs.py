"""A run of the command that follows a folder, as a process of its own, and pages that show it."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import mido

SAMPLES = Path(__file__).parents[1] / "samples"
LONGEST_S = 30.0  # for whatever is waited for: the machine may be busy


def until(true: Callable[[], object], what: str, longest: float = LONGEST_S) -> object:
    """Wait for something to become true, and hand it on."""
    end = time.monotonic() + longest
    while time.monotonic() < end:
        if found := true():
            return found
        time.sleep(0.01)
    raise AssertionError(f"not within {longest:g} s: {what}")


def busy() -> float:
    """How many times slower than alone this machine runs a process now."""
    wall, cpu = time.perf_counter(), time.process_time()
    while time.process_time() - cpu < 0.1:
        pass
    return max(1.0, (time.perf_counter() - wall) / 0.1)


def moved(note: int, to: int) -> bytes:
    """Spilled tea with the bass note ``note`` played as another."""
    midi = mido.MidiFile(SAMPLES / "spilled-tea.mid")
    for track in midi.tracks:
        for n, message in enumerate(track):
            if message.type in ("note_on", "note_off") and message.note == note:
                track[n] = message.copy(note=to)
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


def quieter() -> bytes:
    """Spilled tea with one drum hit played softer: nothing is judged otherwise."""
    midi = mido.MidiFile(SAMPLES / "spilled-tea.mid")
    track = next(t for t in midi.tracks if any(getattr(m, "channel", 0) == 9 for m in t))
    row = next(n for n, m in enumerate(track) if m.type == "note_on" and m.velocity)
    track[row] = track[row].copy(velocity=track[row].velocity - 1)
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


class Watching:
    """The command at work: ``folder`` is followed, ``address`` is that of the page."""

    def __init__(self, home: Path, *words: str) -> None:
        self.home, self.folder = home, home / "beats"
        self.folder.mkdir(exist_ok=True)
        env = os.environ | {"XDG_CACHE_HOME": str(home / "cache")}
        command = [sys.executable, "-m", "basslint", "watch", "beats", "--no-open", "--text"]
        self.log = home / "log.txt"
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [*command, *words], cwd=home, env=env, stdout=log, stderr=subprocess.STDOUT
            )
        self.address = str(until(self._address, "the address of the page"))
        self.origin, _, self.token = self.address.partition("/?token=")

    def _address(self) -> str:
        assert self.process.poll() is None, self.log.read_text()
        found = re.search(r"http://\S+", self.log.read_text())
        return found[0] if found else ""

    @property
    def lines(self) -> list[str]:
        """What it said, without the time of day."""
        return [line[9:] for line in self.log.read_text().splitlines()]

    def save(self, data: bytes, name: str = "tea.mid") -> float:
        """Write a song as a program does that renames what it has written; the time of then."""
        part = self.folder / f".{name}.part"
        part.write_bytes(data)
        part.rename(self.folder / name)
        return time.monotonic()

    def end(self) -> int:
        """Ctrl-C; its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        return self.process.wait(LONGEST_S)


class Shown:
    """A page of a run, with every complaint of the browser."""

    def __init__(self, browser, address: str, width: int = 1280) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 900})
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("console", lambda m: self.complaints.append(m.text))
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.goto(address)

    def song(self, name: str = "tea.mid"):
        return self.page.locator(".song", has=self.page.locator("h2", has_text=name))

    def version(self, name: str = "tea.mid") -> int:
        song = self.song(name)
        return int(song.get_attribute("data-version") or 0) if song.count() else -1

    def rules(self, name: str = "tea.mid") -> list[str]:
        """The rules of the cards, in order."""
        quiet = self.song(name).locator(".finding h3 .quiet").all_text_contents()
        return [text.partition(",")[0].strip() for text in quiet]

    def later(self, version: int, name: str = "tea.mid") -> None:
        """Wait until the song was put anew since a version."""
        until(lambda: self.version(name) > version, f"{name} beyond version {version}")
