"""Does anything that a stranger may hand over end in more than a sentence?

``python tests/bench/attack.py --cases 200000 --kills 200 --waives 100`` puts damaged songs, sounds,
settings, rule pages and cache entries through the commands that read them, each case named by its
seed (``--seed S --cases 1 --keep FOLDER`` leaves its files there). A case is bad when its exit code
is not 0 to 2, when it takes over a second of CPU per 100 kB of input (one second at least), or when
the process passes 500 MB. Then runs are killed at random moments, by SIGKILL and SIGTERM in turn:
nothing may be torn, lost or orphaned. At last that many `waive` run at once: none may be lost.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from mutate import mutate, rearrange, source_of

from basslint.cli.main import main as command

ROOT = Path(__file__).parents[2]
SONGS = [p.read_bytes() for p in sorted((ROOT / "samples").glob("*.mid"))]
SOURCES = [source_of(data) for data in SONGS]
PAGES = [p.read_text("utf-8") for p in sorted((ROOT / "rules").glob("*/*.md"))]
SLOW_S, PER_BYTES, LARGE_KB = 1.0, 100_000, 500 * 1024
RULES = ("off-root", "slide-off-scale", "fill-off-phrase", "slide-after-decay")

SETTINGS = """gate = "warning"
middle_c = "C4"
strict = { most_unjudged = 0.2 }
together = ["night/*.mid"]

[facts]
bass = "Sub"
key = "F# minor"
chords = ["Dm Bb*2 C", { from = "bar 17", chords = "Gm A7" }]
decay = "600ms"
bend_range = 12
transpose = -3
one_shot = true

[rules]
housekeeping = false
late-change = { level = "error", most_late = 0.75 }
slide-after-decay = { floor_db = -30.0 }

[limits]
max_bytes = 33554432
max_seconds = 20

[[song]]
files = ["*drafts/*.mid", "*-wip.mid"]
facts = { decay = "2s" }

[[waive]]
rule = "off-root"
song = "a.mid"
bars = "5-8"
reason = "it is meant"
until = 2031-01-31
"""
_WORDS = (
    "²", "-1", "0", "1e400", "nan", "inf", "9" * 5000, "0x" + "f" * 3000, '""', "[]", "{}", "true",
    '"' + "x" * 5000 + '"', "[" * 3000, "a." * 3000, "\x00", "\ufeff", "\r", '"\\ud800"', "'''",
    '"#²"', "1979-05-27", "07:32:00", "[[1]]", '"*a*a*a*a*a*a*b"', '"C*1/0"',
    '"' + "C " * 3000 + '"',
)  # fmt: skip


def damaged_song(rng: random.Random) -> bytes:
    row = rng.randrange(len(SONGS))
    return mutate(SONGS[row], rng) if rng.random() < 0.7 else rearrange(SOURCES[row], rng)


def damaged_text(text: str, rng: random.Random) -> bytes:
    """Lines lost, doubled, swapped; values replaced by odd ones; bytes broken."""
    lines = text.split("\n")
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(lines))
        kind = rng.randrange(6)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, rng.choice(lines))
        elif kind == 2 and "=" in lines[at]:
            lines[at] = lines[at].partition("=")[0] + "= " + rng.choice(_WORDS)
        elif kind == 3:
            cut = rng.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + rng.choice(_WORDS) + lines[at][cut:]
        elif kind == 4:
            other = rng.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines[at] = lines[at].replace(rng.choice('0123456789"=[]{}.-'), rng.choice(_WORDS[:9]))
        lines = lines or [""]
    raw = "\n".join(lines).encode("utf-8", "surrogatepass")
    return mutate(raw, rng) if rng.random() < 0.2 else raw


def damaged_sound(rng: random.Random) -> bytes:
    rate = rng.choice((8000, 22_050, 44_100, 192_000))
    time_s = np.arange(int(rate * rng.choice((0.02, 0.1, 0.5)))) / rate
    wave = np.exp(-rng.choice((0, 3, 30)) * time_s) * np.sin(2 * np.pi * 50 * time_s)
    wave = wave * rng.choice((0, 1e-30, 1, 1e3, 1e30, 3e38)) + rng.choice((0, 0, 1, 3e38))
    if rng.random() < 0.2:
        wave[rng.randrange(len(wave))] = rng.choice((np.nan, np.inf, -np.inf, 1e38))
    held = io.BytesIO()
    with np.errstate(over="ignore"):
        form = rng.choice((("WAV", "FLOAT"), ("WAV", "DOUBLE"), ("AIFF", "FLOAT")))
        soundfile.write(held, wave, rate, format=form[0], subtype=form[1])
    return mutate(held.getvalue(), rng) if rng.random() < 0.7 else held.getvalue()


def case(rng: random.Random, folder: Path) -> list[str]:
    """Write the files of a case, and give the words that read them."""
    kind = rng.choice(
        ("check", "check", "chart", "mend", "explain", "audition", "sound", "settings", "pages",
         "cache")
    )  # fmt: skip
    song = folder / "a.mid"
    song.write_bytes(damaged_song(rng) if kind not in ("settings", "pages") else rng.choice(SONGS))
    one = str(song)
    if kind == "check":
        return ["check", one, "--no-cache", "--format", rng.choice(
            ("text", "json", "sarif", "junit", "html", "markdown"))]  # fmt: skip
    if kind == "chart":
        return ["chart", one, "--format", rng.choice(("text", "json"))]
    if kind == "mend":
        return ["mend", one, "--by-ear", "--output", str(folder / "o.mid")]
    if kind == "explain":
        return ["explain", rng.choice(RULES), one]
    if kind == "audition":
        return ["audition", one, "--bars", "1-2", "--output", str(folder / "o.wav")]
    if kind == "sound":
        (folder / "s.wav").write_bytes(damaged_sound(rng))
        sound = str(folder / "s.wav")
        return rng.choice((["sound", sound], ["check", one, "--no-cache", "--sound", sound],
                           ["chart", sound]))  # fmt: skip
    if kind == "settings":
        (folder / "basslint.toml").write_bytes(damaged_text(SETTINGS, rng))
        return ["check", one, "--no-cache"]
    if kind == "pages":
        (folder / "basslint.toml").write_text("")
        (folder / "rules").mkdir(exist_ok=True)
        (folder / "rules" / "page.md").write_bytes(damaged_text(rng.choice(PAGES), rng))
        return ["check", one, "--no-cache"]
    run(["check", one])
    for entry in Path(os.environ["XDG_CACHE_HOME"]).rglob("*"):
        if entry.is_file() and entry.name != "a.mid":
            raw = entry.read_bytes()
            entry.write_bytes(mutate(raw, rng) if rng.random() < 0.8 else damaged_text("{}", rng))
    return ["check", one]


def run(words: list[str]) -> tuple[int, str]:
    """The exit code of a command in this process, and what it complained of."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8", errors="backslashreplace"), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = command(words)
        out.flush()
    told = out.buffer.getvalue().decode("utf-8", "replace")  # type: ignore[attr-defined]
    return code, err.getvalue() + (told if code == 3 else "")


def cases(seeds: range, slow_s: float, keep: Path | None) -> tuple[Counter[str], list[str]]:
    """The cases of some seeds: how they ended, and the bad ones in words."""
    ended: Counter[str] = Counter()
    bad: list[str] = []
    for seed in seeds:
        rng = random.Random(seed)
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
            words = case(rng, folder)
            files = [p for p in folder.rglob("*") if p.is_file()]
            size = sum(p.stat().st_size for p in files)
            if keep:
                shutil.copytree(folder, keep, dirs_exist_ok=True)
            begin = time.process_time()
            try:
                code, told = run(words)
            except SystemExit as error:  # argparse's own
                code, told = int(error.code or 0), ""
            except BaseException as error:
                code, told = 99, f"{type(error).__name__}: {error}"
            took = time.process_time() - begin
        name = f"seed {seed}: {' '.join(words[:1] + [w for w in words[2:] if '/' not in w])}"
        ended[f"{words[0]} {code}"] += 1
        if code not in (0, 1, 2):
            bad.append(f"{name}: exit {code}: {told[-300:]!r}")
        if took > slow_s * max(size / PER_BYTES, 1.0):
            bad.append(f"{name}: {took:.2f} s for {size:,} bytes")
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > LARGE_KB:
            bad.append(f"{name}: the process passed 500 MB; stopping")
            break
    return ended, bad


def kills(count: int, seed: int) -> list[str]:
    """Runs that are ended at random moments."""
    rng, bad = random.Random(seed), []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        env = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
        beats = folder / "beats"
        beats.mkdir()
        for n in range(24):
            (beats / f"{n}.mid").write_bytes(SONGS[n % len(SONGS)])
        (folder / "basslint.toml").write_text("# ours\n")
        report, longest = folder / "r.json", 3.0
        for n in range(count):
            words = rng.choice((
                ["check", "beats", "--jobs", "2", "--format", "json", "--output", "r.json"],
                ["mend", "beats/0.mid", "--by-ear", "--output", "m.mid"],
                ["accept", "beats", "--jobs", "2", "--reason", "x"],
            ))  # fmt: skip
            process = subprocess.Popen(
                [sys.executable, "-m", "basslint", *words],
                cwd=folder,
                env=env,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                start_new_session=True,
            )
            time.sleep(rng.random() * longest)
            process.send_signal(signal.SIGKILL if n % 2 else signal.SIGTERM)
            try:
                process.communicate(timeout=20)  # ends when nobody holds its output any more
            except subprocess.TimeoutExpired:
                bad.append(f"kill {n}: its output is held open")
                process.kill()
            if left := _left_in(process.pid):
                bad.append(f"kill {n}: left behind {left}")
            bad += [f"kill {n}: {why}" for why in _torn(folder, report)]
            if not n % 2 and process.returncode not in (0, 1, 2, 143, -signal.SIGTERM):
                bad.append(f"kill {n}: SIGTERM gave {process.returncode}")
    return bad


def _left_in(session: int) -> list[int]:
    """Processes of a session that still live, given a moment to end."""
    for _ in range(40):
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


def _torn(folder: Path, report: Path) -> list[str]:
    bad = []
    if report.exists():
        try:
            json.loads(report.read_text("utf-8"))
        except ValueError:
            bad.append("a torn report")
        report.unlink()
    settings = (folder / "basslint.toml").read_text("utf-8")
    try:
        tomllib.loads(settings)
    except tomllib.TOMLDecodeError:
        bad.append("torn settings")
    if not settings.startswith("# ours\n"):
        bad.append("lost settings")
    mended = folder / "m.mid"
    if mended.exists() and run(["chart", str(mended)])[0] != 0:
        bad.append("a torn copy")
    return bad


def waives(count: int) -> list[str]:
    """So many waivers at once, each of a song of its own."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "basslint.toml").write_text("# ours\n")
        for n in range(count):
            (folder / f"{n}.mid").write_bytes((ROOT / "samples" / "spilled-tea.mid").read_bytes())
        running = [
            subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "basslint",
                    "waive",
                    f"{n}.mid",
                    "off-root",
                    "--reason",
                    "x",
                ],
                cwd=folder,
                stdout=subprocess.DEVNULL,
            )
            for n in range(count)
        ]
        failed = sum(process.wait() != 0 for process in running)
        listed = tomllib.loads((folder / "basslint.toml").read_text("utf-8"))["waive"]
        lost = count - len({w["song"] for w in listed})
    return [f"waives: {failed} failed, {lost} of {count} lost"] if failed or lost else []


def main() -> int:
    """Run what was asked for, and list what is bad; exit code 1 where anything is."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=200_000)
    parser.add_argument("--seconds", type=float, default=0.0, help="stop the cases after so long")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--waives", type=int, default=0)
    parser.add_argument("--slow", type=float, default=SLOW_S, help="seconds of CPU that are bad")
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    parts: list[tuple[str, int, Callable[[], list[str]]]] = [
        ("kills", args.kills, lambda: kills(args.kills, args.seed)),
        ("waives", args.waives, lambda: waives(args.waives)),
    ]
    with tempfile.TemporaryDirectory() as name:  # what is imported once is no case's time
        for kind in ("json", "sarif", "junit", "html", "markdown"):
            (Path(name) / "a.mid").write_bytes(SONGS[0])
            run(["check", f"{name}/a.mid", "--no-cache", "--format", kind])
    ended: Counter[str] = Counter()
    bad: list[str] = []
    begin, done = time.monotonic(), 0
    while done < args.cases and (not args.seconds or time.monotonic() - begin < args.seconds):
        first = args.seed + done
        step = min(100, args.cases - done)
        counts, words = cases(range(first, first + step), args.slow, args.keep)
        ended, bad, done = ended + counts, bad + words, done + step
        if any("stopping" in word for word in words):
            break
    print(f"{done:,} cases from seed {args.seed}: {dict(sorted(ended.items()))}")
    for name, count, part in parts:
        if count:
            found = part()
            print(f"{count} {name}: {len(found)} bad")
            bad += found
    print(f"bad: {len(bad)}")
    for line in bad[:60]:
        print(f"  {line}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
