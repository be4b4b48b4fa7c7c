"""What may a stranger hand over? One seed, one case: some files and the command that reads them.

A case costs what the command costs: books, parsers and cache entries that the case does not touch
are made once for a process, and where the song is not what is damaged it is a short one.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import shutil
import sys
import tempfile
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from midi_bytes import END, chunk, header, quantity
from mutate import Source, mutate, rearrange, source_of

import basslint.cli.parsing
import basslint.report.formats.lesson_text
import basslint.rulebook.loader
from basslint.batch.cache import _seal
from basslint.cli.main import main as command

ROOT = Path(__file__).parents[2]
PAGES = [p.read_text("utf-8") for p in sorted((ROOT / "rules").glob("*/*.md"))]
RULES = ("off-root", "slide-off-scale", "fill-off-phrase", "slide-after-decay")
FORMATS = ("text", "json", "sarif", "junit", "html", "markdown")
SHORT_BARS = 4

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
_STATED = (
    "", " ", "#1", "#2", "#0", "#²", "#-1", "-1", "0", "1-2", "2-1", "1-99999999", "9" * 5000, "²",
    "nan", "inf", "1e400", "600ms", "0ms", "1e9s", "F# minor", "H dur", "Dm Bb F C", "C*1/0",
    "C*1e9", "C/" * 300, "Sub", "Drums", "*", "\ud800", "C3", "C99", "3/4", "4/0", "1/3", "0/0",
    "2/1",
)  # fmt: skip
_CACHED = ("check", "--format", "json")
_OPTIONS = {
    "check": ("--bass", "--harmony", "--key", "--decay", "--bend-range", "--glide-time", "--chords",
              "--root-key", "--only", "--without", "--shard", "--gate", "--jobs", "--sound",
              "--loop"),
    "chart": ("--bass", "--harmony", "--key", "--chords", "--octave", "--bpm", "--bars", "--meter",
              "--begins", "--guide"),
    "mend": ("--bass", "--harmony", "--key", "--chords", "--only", "--without", "--bend-range"),
    "audition": ("--bars", "--octaves-up", "--bass", "--chords"),
    "waive": ("--bar", "--reason", "--until"),
}  # fmt: skip


def _short(source: Source) -> Source:
    """The first bars of a song."""
    last = SHORT_BARS * 4 * source.division
    tracks = []
    for events in source.tracks:
        tick, kept = 0, []
        for delta, event in events:
            tick += delta
            ends = event[0] < 0x90 or event[-1] == 0
            if event != END and (tick < last or (tick == last and ends)):
                kept.append((delta, event))
        tracks.append((*kept, (0, END)))
    bodies = [b"".join(quantity(delta) + event for delta, event in t) for t in tracks]
    data = header(1, len(bodies), source.division) + b"".join(chunk(b"MTrk", b) for b in bodies)
    return Source(data, source.division, tuple(tracks))


WHOLE = [source_of(p.read_bytes()) for p in sorted((ROOT / "samples").glob("*.mid"))]
SHORT = [_short(source) for source in WHOLE]
CALM = _short(source_of((ROOT / "samples" / "spilled-tea.mid").read_bytes())).data  # not damaged


def made_once() -> None:
    """What no case touches is made once, or not at all: the built-in pages and their examples, the
    parser's words."""
    loader, parsing = basslint.rulebook.loader, basslint.cli.parsing
    loader.parse_page = lru_cache(64)(loader.parse_page)
    parsing.parser_of = cache(parsing.parser_of)
    basslint.report.formats.lesson_text._example = lambda *_: None
    for form in FORMATS:  # and what is imported by the first that needs it
        with own_folder(-1) as folder:
            (folder / "a.mid").write_bytes(WHOLE[0].data)
            run(["check", str(folder / "a.mid"), "--no-cache", "--format", form])


@contextlib.contextmanager
def own_folder(seed: int) -> Iterator[Path]:
    """A folder for one case, gone after it; its path is no other case's."""
    folder = _home() / str(seed)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@cache
def _home() -> Path:
    return Path(tempfile.mkdtemp(prefix="attack-"))


def run(words: list[str]) -> tuple[int, str]:
    """The exit code of a command in this process, and what it complained of."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8", errors="backslashreplace"), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = command(words)
        out.flush()
    told = out.buffer.getvalue().decode("utf-8", "replace")  # type: ignore[attr-defined]
    return code, err.getvalue() + (told if code == 3 else "")


def damaged_song(rng: random.Random) -> bytes:
    """A song, or its first bars, broken byte by byte or event by event."""
    source = rng.choice(rng.choice((WHOLE, SHORT)))
    return mutate(source.data, rng) if rng.random() < 0.7 else rearrange(source, rng)


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
    """A decaying tone: too loud, silent, off centre, not a number, its chunks broken."""
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


def _of_a_song(kind: str, rng: random.Random, folder: Path) -> list[str]:
    song = folder / "a.mid"
    song.write_bytes(damaged_song(rng))
    one = str(song)
    if kind == "check":
        return ["check", one, "--no-cache", "--format", rng.choice(FORMATS)]
    if kind == "chart":
        return ["chart", one, "--format", rng.choice(("text", "json"))]
    if kind == "mend":
        return ["mend", one, "--by-ear", "--output", str(folder / "o.mid")]
    if kind == "explain":
        page = ["--format", "html", "--output", str(folder / "o.html")]
        return ["explain", rng.choice(RULES), one, *(page if rng.random() < 0.3 else ())]
    return ["audition", one, "--bars", "1-2", "--output", str(folder / "o.wav")]


def _of_a_sound(rng: random.Random, folder: Path) -> list[str]:
    sound = str(folder / "s.wav")
    Path(sound).write_bytes(damaged_sound(rng))
    one = str(folder / "a.mid")
    words = rng.choice((["sound", sound], ["chart", sound], ["check", one, "--sound", sound]))
    if words[0] == "check":
        Path(one).write_bytes(CALM)
        words.append("--no-cache")
    return words


def damaged_loop(rng: random.Random) -> bytes:
    """Two bars of two chords, as `CALM` has them: too quiet, off its tempo, its bytes broken."""
    rate, bar_s = 8000, 4 * 60 / 140
    time_s = np.arange(int(rate * 2 * bar_s * rng.choice((1, 1, 1, 0.93, 0.4)))) / rate
    wave = np.zeros(len(time_s))
    for bar, chord in enumerate(((57, 60, 64), (53, 57, 60))):
        for key in chord:
            struck = np.maximum(time_s - bar * bar_s, 0) * 2 ** ((key - 69) / 12)
            wave += np.sin(2 * np.pi * 440 * struck) * (time_s < (bar + 1) * bar_s)
    wave = wave * rng.choice((0, 1e-5, 0.2, 0.2, 0.2, 1e3)) + rng.choice((0, 0, 0, 1))
    held = io.BytesIO()
    form = rng.choice((("WAV", "PCM_16"), ("FLAC", "PCM_16"), ("AIFF", "FLOAT")))
    soundfile.write(held, wave.clip(-1, 1), rate, format=form[0], subtype=form[1])
    return mutate(held.getvalue(), rng) if rng.random() < 0.6 else held.getvalue()


def _of_a_loop(rng: random.Random, folder: Path) -> list[str]:
    """A song over a loop of sound; either may be damaged."""
    one, loop = str(folder / "a.mid"), str(folder / "l.wav")
    Path(one).write_bytes(damaged_song(rng) if rng.random() < 0.3 else CALM)
    Path(loop).write_bytes(damaged_loop(rng))
    if rng.random() < 0.2:  # as the settings name it
        lines = '[[loop]]\nfile = "l.wav"\nat = "1-4"\nbars = 2\nbegins = "35ms"\nsemitones = -3\n'
        (folder / "basslint.toml").write_bytes(damaged_text(lines, rng))
        return ["check", one, "--no-cache"]
    words = rng.choice((
        ["check", one, "--format", rng.choice(FORMATS)],
        ["chart", one],
        ["mend", one, "--by-ear", "--output", str(folder / "o.mid")],
        ["audition", one, "--bars", "1-2", "--roots", "--output", str(folder / "o.wav")],
    ))  # fmt: skip
    return [*words, "--loop", loop]


def _of_settings(rng: random.Random, folder: Path) -> list[str]:
    (folder / "a.mid").write_bytes(CALM)
    (folder / "basslint.toml").write_bytes(damaged_text(SETTINGS, rng))
    return ["check", str(folder / "a.mid"), "--no-cache", "--only", "off-root"]


def _of_pages(rng: random.Random, folder: Path) -> list[str]:
    (folder / "a.mid").write_bytes(CALM)
    (folder / "basslint.toml").write_text("")
    (folder / "rules").mkdir()
    page = rng.choice(PAGES)
    (folder / "rules" / "page.md").write_bytes(damaged_text(page, rng))
    if rng.random() < 0.3:
        name, settings = page.split('"')[1], ("--settings", str(folder / "basslint.toml"))
        shown = ["--format", "html", "--output", str(folder / "o.html")]
        return ["explain", name, *settings, *(shown if rng.random() < 0.5 else ())]
    return ["check", str(folder / "a.mid"), "--no-cache", "--only", "house"]


def _of_the_cache(rng: random.Random, folder: Path) -> list[str]:
    """Every file of a cache damaged after a run that filled it."""
    song, home = _home() / "cached" / "a.mid", folder / "cache"
    for name, raw in _cached(song).items():
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_bytes(_damaged_entry(name, raw, rng))
        (home / name).parent.chmod(0o700)
        (home / name).parents[1].chmod(0o700)
    return [*_CACHED, str(song)]


def _damaged_entry(name: str, raw: bytes, rng: random.Random) -> bytes:
    """An entry whose bytes are broken, or one that somebody forged: other values, sealed again."""
    if rng.random() < 0.5:
        return mutate(raw, rng) if rng.random() < 0.8 else damaged_text("{}", rng)
    held = json.loads(raw.partition(b"\n")[2])
    for _ in range(rng.choice((1, 1, 3))):
        _replace_one(held, rng)
    body = json.dumps(held, separators=(",", ":")).encode("ascii")
    *_, folder, last = name.split("/")
    key = last if folder == "books" else folder + last
    return _seal(key, body).encode("ascii") + b"\n" + body


def _replace_one(held: object, rng: random.Random) -> None:
    """Put something else in the place of a value somewhere in a piece of JSON."""
    while True:
        if not isinstance(held, dict | list) or not held:
            return
        at = rng.choice(list(held) if isinstance(held, dict) else range(len(held)))
        within = held[at]
        if not isinstance(within, dict | list) or not within or rng.random() < 0.1:
            others = (None, True, -1, 10**30, 0.5, 1e308, "", "x", "error", [], {}, [1], within)
            held[at] = rng.choice(others)
            return
        held = within


@cache
def _cached(song: Path) -> dict[str, bytes]:
    """What a run over a calm song leaves in its cache, by path below it."""
    song.parent.mkdir(parents=True, exist_ok=True)
    song.write_bytes(CALM)
    before, home = os.environ["XDG_CACHE_HOME"], song.parent / "cache"
    os.environ["XDG_CACHE_HOME"] = str(home)
    run([*_CACHED, str(song)])
    os.environ["XDG_CACHE_HOME"] = before
    return {str(p.relative_to(home)): p.read_bytes() for p in home.rglob("*") if p.is_file()}


def _of_reports(rng: random.Random, folder: Path) -> list[str]:
    (folder / "r.json").write_bytes(
        mutate(_report(), rng) if rng.random() < 0.5 else damaged_text(_report().decode(), rng)
    )
    return ["merge", str(folder / "r.json"), "--output", str(folder / "all.json")]


@cache
def _report() -> bytes:
    """The report of a calm song, its values on lines of their own."""
    song = _home() / "reported.mid"
    song.write_bytes(CALM)
    run(["check", str(song), "--no-cache", "--format", "json", "--output", str(song) + ".json"])
    return json.dumps(json.loads(Path(str(song) + ".json").read_bytes()), indent=1).encode()


def _of_words(rng: random.Random, folder: Path) -> list[str]:
    """Odd words where the command line asks for facts."""
    name = rng.choice(tuple(_OPTIONS))
    (folder / "a.mid").write_bytes(CALM)
    words = [name, str(folder / "a.mid")]
    if name == "waive":
        words += ["off-root", "--reason", "x"]
        (folder / "basslint.toml").write_text("")
    if name in ("mend", "audition"):
        words += ["--output", str(folder / "out")]
    for _ in range(rng.choice((1, 1, 2, 3))):
        words += [rng.choice(_OPTIONS[name]), rng.choice(_STATED)]
    for at, word in enumerate(words):  # files that are written have these names, in the folder
        if word == "--guide":
            words[at + 1] = str(folder / words[at + 1].replace("/", "_"))
    return [*words, "--no-cache"] if name == "check" else words


KINDS = ("check", "check", "chart", "mend", "explain", "audition", "sound", "loop", "settings",
         "pages", "cache", "merge", "words")  # fmt: skip
_OTHERS = {
    "sound": _of_a_sound,
    "loop": _of_a_loop,
    "settings": _of_settings,
    "pages": _of_pages,
    "cache": _of_the_cache,
    "merge": _of_reports,
    "words": _of_words,
}


def case(rng: random.Random, folder: Path) -> list[str]:
    """Write the files of a case, and give the words of the command that reads them."""
    kind = rng.choice(KINDS)
    return _OTHERS[kind](rng, folder) if kind in _OTHERS else _of_a_song(kind, rng, folder)


def take_away() -> None:
    """The folders of all cases, at the end of a run."""
    shutil.rmtree(_home(), ignore_errors=True)
