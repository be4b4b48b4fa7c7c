"""What is heard and found in many files, boiled down to a line per file and question.

Of each answer a hash keeps ticks, counts, words and yes or no, all of which must stay as they are;
two sums keep what is measured, within the last bits by which machines differ. So a constant that
is changed in hearing names the questions that it changes.
"""

from __future__ import annotations

import hashlib
import json
import os
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from bench.beats import make_beat
from characterisation.edges import edges

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.rulebook.loader import Rule, read_book
from basslint.smf.scan import Limits, scan
from basslint.song.arrangement import build
from basslint.theory.chords import QUALITIES

ROOT = Path(__file__).parents[2]
STORE = Path(__file__).with_name("digests.json")
DATA = "BASSLINT_DATA"  # the environment variable that names the folder of the data
BEATS = 30
# A chord without a third is called major or minor by the last bit of a float32 product in this one,
# so that machines without AVX2 answer otherwise; all others agree.
TIED = frozenset({"d_e4m7.mid"})
GAME_DECAY_S = 1.2  # so that the data's slides have a level; by judgement

# Measured are probabilities, decibels, beats: a sum that is off by less is the same but for float32
# products, which are added up in another order on another machine.
_TOLERANCE = 1e-3
_RELATIVE = 1e-6


class Digest(NamedTuple):
    """A hash over all that is exact in an answer, and two sums over all that is measured."""

    exact: str
    total: float
    mixed: float

    def is_like(self, other: Digest) -> bool:
        """Whether both tell of the same answer."""
        return self.exact == other.exact and all(
            abs(mine - theirs) <= _TOLERANCE + _RELATIVE * abs(mine)
            for mine, theirs in ((self.total, other.total), (self.mixed, other.mixed))
        )


Digests = dict[str, Digest]  # by question


def digests(data: bytes, facts: Facts) -> Digests:
    """The digest of every question that a file is asked, and of the file itself."""
    # read under a limit that the file just keeps
    events = sum(len(track) for track in scan(data).tracks)
    chart = Chart(build(scan(data, Limits(max_events=events))), facts)
    answers = {question: _digest(ask(chart)) for question, ask in QUESTIONS.items()}
    return {"file": _digest(data.hex()), **answers}


def changed(was: Digests, now: Digests) -> list[str]:
    """The questions whose answer is not the same."""
    return [q for q in {**was, **now} if not (q in was and q in now and now[q].is_like(was[q]))]


@dataclass(frozen=True)
class _HeardRoots:
    """What is heard of roots; what follows from it, or is stated, is left out."""

    start: object
    end: object
    root: object
    quality: object
    certainty: object
    fit: object
    since: object


def _named_roots(chart: Chart) -> object:
    roots = chart.roots
    heard = _HeardRoots(**{f.name: getattr(roots, f.name) for f in fields(_HeardRoots)})
    return heard, [QUALITIES[q] for q in roots.quality]


def _findings(chart: Chart) -> object:
    verdict = judge(chart, _book())
    told = [(u.rule, u.start_bar, u.end_bar) for u in verdict.unjudged]
    return [_plain(f) for f in verdict.findings], told, verdict.faults


def _plain(finding: Finding) -> object:
    """A finding without its words, which are read in the golden files."""
    f = finding
    fix = f.fix and (f.fix.kind, f.fix.edits)
    return f.rule, f.level, f.part, f.where, f.readings, f.certainty, f.pitch, f.byte, f.cause, fix


QUESTIONS: dict[str, Callable[[Chart], object]] = {
    "parts": lambda chart: chart.parts,
    "roots": _named_roots,
    "key": lambda chart: chart.keys,
    "phrases": lambda chart: (chart.phrases, chart.phrases.label, chart.phrases.why),
    "slides": lambda chart: (chart.slides, chart.unstated_range),
    "fills": lambda chart: chart.fills,
    "pattern": lambda chart: (chart.pattern, [FUNCTIONS[f] for f in chart.functions]),
    "findings": _findings,
}


@lru_cache(1)
def _book() -> tuple[Rule, ...]:
    return read_book()


def _digest(answer: object) -> Digest:
    exact = hashlib.sha256()
    measured: list[float] = []
    for piece in _pieces(answer):
        if isinstance(piece, float):
            measured.append(piece)
        else:
            exact.update(f"{piece}\0".encode())
    values = np.array(measured)
    told = np.isfinite(values)
    exact.update(told.tobytes())
    values = np.where(told, values, 0.0)
    # the second sum weighs every place otherwise, so that values that change places are seen
    mixed = values * np.cos(np.arange(len(values)))
    return Digest(exact.hexdigest()[:12], round(float(values.sum()), 5), round(mixed.sum(), 5))


def _pieces(answer: object) -> Iterator[str | float]:
    """All values of an answer in order: floats as they are, the rest as words."""
    if isinstance(answer, np.ndarray):
        yield str(answer.shape)
        if answer.dtype.kind == "f":
            yield from answer.astype(float).ravel().tolist()
        else:
            yield str(answer.tolist())
    elif is_dataclass(answer):
        for field in fields(answer):
            value = getattr(answer, field.name)
            if not callable(value):
                yield from _pieces(value)
    elif isinstance(answer, list | tuple):
        yield str(len(answer))
        for value in answer:
            yield from _pieces(value)
    elif isinstance(answer, float):
        yield float(answer)
    else:
        yield str(answer)


class Case(NamedTuple):
    """A file of the net; ``needs_data``: it is not part of the checkout."""

    name: str
    read: Callable[[], tuple[bytes, Facts]]
    needs_data: bool = False


def cases(stored: Iterable[str] = ()) -> list[Case]:
    """All files of the net; those of the data by what is ``stored`` where the data is not here."""
    beats = [Case(f"beat {seed}", lambda seed=seed: _beat(seed)) for seed in range(BEATS)]
    samples = sorted((ROOT / "samples").rglob("*.mid"))
    data = data_folder()
    if data is None:
        names = [name for name in stored if name.startswith("game-parts/")]
    else:
        songs = sorted((data / "game-parts").glob("*.mid"))
        names = [f"game-parts/{song.name}" for song in songs[::2] if song.name not in TIED]
    return [
        *beats,
        *(Case(name, lambda data=data: (data, Facts())) for name, data in edges().items()),
        *(Case(f"samples/{p.name}", lambda p=p: _sample(p)) for p in samples),
        *(Case(name, lambda name=name: _data_song(name), True) for name in names),
    ]


def data_folder() -> Path | None:
    """Where the data lies: where the environment says, or beside the checkout; None for nowhere."""
    named = os.environ.get(DATA)
    folder = Path(named) if named else ROOT.parent / "shared" / "data"
    return folder if (folder / "game-parts").is_dir() else None


def _beat(seed: int) -> tuple[bytes, Facts]:
    beat = make_beat(seed)
    return beat.data, Facts(decay_s=beat.truth.decay_s)


def _sample(path: Path) -> tuple[bytes, Facts]:
    page = path.with_suffix(".toml")
    said: dict[str, Any] = tomllib.loads(page.read_text("utf-8")) if page.exists() else {}
    decay = said.get("decay")
    return path.read_bytes(), Facts(
        decay_s=float(decay.removesuffix("ms")) / 1000 if decay else None
    )


def _data_song(name: str) -> tuple[bytes, Facts]:
    folder = data_folder()
    assert folder is not None  # whoever asks for it has looked
    return (folder / name).read_bytes(), Facts(decay_s=GAME_DECAY_S)


def read_store() -> dict[str, Digests]:
    """The stored digests, by file and question."""
    if not STORE.exists():
        return {}
    told = json.loads(STORE.read_text("utf-8"))
    return {name: {q: Digest(*d) for q, d in of.items()} for name, of in told.items()}


def write_store(store: dict[str, Digests]) -> None:
    """Store digests, a file's on one line, so that a difference names it."""
    lines = [f"{json.dumps(name)}: {json.dumps(of)}" for name, of in store.items()]
    STORE.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8", newline="\n")
