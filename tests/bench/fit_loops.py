"""Fit the weights with which loops of sound are heard. Deliberate: figures change, tests may too.

    render_loops.py SONGS TRUTH --songs 1mod4 --loops 44 --seed 1     (../shared/tools)
    python tests/bench/fit_loops.py FEATURES TRUTH [TRUTH ...]  # writes audio/weights.json
    python tests/bench/fit_loops.py --glides TRUTH               # writes audio/glides.json

FEATURES is a folder in which the ear's columns are kept: they are slow to make, quick to fit on.
The chances that a note sounds, is struck, is lowest, heard once and again: each time one hidden
layer of tanh nodes beside direct weights, maximum likelihood by Adam (Kingma and Ba, ICLR 2015),
three in twenty of the plainly empty cells with seven times the weight.

Glides: logistic regression with a quadratic penalty, by Newton's method. Both print a loss; what
they are worth is measured by `loops.py` on other songs. The scales of the decoder
(`audio/roots.py`) were found on chances of the other half of the songs, one at a time up and down
by an eighth while the mean log chance of the true root rose, all four then taken down for
certainty.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import basslint.audio
from basslint.audio.chances import Weights, heard_once
from basslint.audio.context import context, context_names
from basslint.audio.eighths import feature_names, features
from basslint.audio.glides import glide_features, movement
from basslint.audio.load import read_loop
from basslint.audio.notes import FIRST_NOTE, NOTES, saliences, whiten
from basslint.audio.spectra import log_spectra
from basslint.audio.steady import lasting
from basslint.audio.strokes import band_levels, stroke_strength
from basslint.audio.tuning import hear_tuning

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

NODES, NODES_AGAIN, EPOCHS, BATCH, RATE = 48, 32, 6, 4096, 4e-3
ROWS = 1_350_000  # of cells that are learnt from: each song has as many as any other one
KEPT_EMPTY = 0.15  # share of the cells in which nothing sounds nor seems to
SEEMS = 0.25  # of the two half-eighth saliences together, from which something seems to sound
SNAP = 0.3  # of an eighth, as for MIDI
PENALTY = 3.0
BASS = 28  # E1: bass guitar of condition "band", see render_loops.py
HOME = Path(basslint.audio.__file__).parent


def truth_columns(about: dict[str, Any], n: int, per: int) -> Singles:
    """What each note does in each eighth: sounds (share), struck, lowest, [n, NOTES, 3]."""
    notes = [list(row[:3]) for row in about["notes"]]
    if "bass_db" in about["parameters"]:
        notes += [[a, b, BASS + (bass - 4) % 12] for a, b, _, bass, _ in about["chords"]]
    held, struck = np.zeros((n, 128)), np.zeros((n, 128))
    for start, end, pitch in notes:
        a, b = (
            t * per if abs(t * per - round(t * per)) > SNAP else round(t * per)
            for t in (start, end)
        )
        b = b if b > a else a + max((end - start) * per, 1e-3)
        for i in range(max(int(np.floor(a)), 0), min(int(np.ceil(b)), n)):
            held[i, pitch] = min(1.0, held[i, pitch] + max(0.0, min(b, i + 1) - max(a, i)))
        if a == int(a) and 0 <= a < n:
            struck[int(a), pitch] = 1.0
    lowest = np.zeros((n, 128))
    for i in range(0, n, per):
        heard = np.flatnonzero((held[i : i + per] >= 0.15).any(axis=0))
        if len(heard):
            lowest[i : i + per, heard[0]] = 1.0
    span = slice(FIRST_NOTE, FIRST_NOTE + NOTES)
    return np.stack((held[:, span], struck[:, span], lowest[:, span]), axis=2).astype(np.float32)


def heard(path: Path) -> tuple[dict[str, Any], Any]:
    """The truth of a render, and what its ear gives: samples, white, strength, edges."""
    about = json.loads(path.read_text())
    sound = read_loop(path.with_suffix(".wav")).samples
    per = max(8 // about["meter"][1], 1)
    lines = np.array(about["beat_s"])
    edges = np.interp(np.arange(about["beats"] * per + 1) / per, np.arange(len(lines)), lines)
    tuning = hear_tuning(sound)
    spectra = log_spectra(sound, tuning.cents)
    strength = stroke_strength(band_levels(sound))
    return about, (spectra, strength, edges, per, tuning.cents)


def store(paths: list[Path], folder: Path) -> list[Path]:
    """The columns of each render and what is true of them, one file each; made where missing."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for path in paths:
        file = folder / f"{path.parent.name}-{path.stem}.npz"
        files.append(file)
        if file.is_file():
            continue
        about, (spectra, strength, edges, per, cents) = heard(path)
        white = whiten(lasting(spectra))
        x = features(saliences(white), white, strength, edges)
        gliding = np.zeros(len(x), dtype=bool)
        for start, end, *_ in about["glides"]:
            gliding[int(start * per) : int(np.ceil(end * per))] = True
        np.savez(
            file,
            x=x.astype(np.float16),
            y=truth_columns(about, len(x), per),
            use=~gliding & (abs(cents - about["tuning_cents"]) < 50.0),  # else a semitone away
            bar=per * about["meter"][0],
        )
    return files


def song_of(file: Path) -> str:
    """The song a stored render is of: its name is FOLDER-SONG-LOOP-REGISTER-CONDITION."""
    return file.stem.split("-")[-4]


def note_rows(files: list[Path], first: Weights | None) -> tuple[Singles, Singles, Singles]:
    """Columns, truth and weights of the cells that are learnt from.

    ``first``: the weights by which they are heard at first, for the columns of the second hearing.
    """
    rng = np.random.default_rng(0)
    many = Counter(song_of(file) for file in files)
    share = ROWS / len(many)
    parts = []
    for file in files:
        stored = np.load(file)
        x, y = stored["x"].astype(np.float32), stored["y"]
        full = (y.max(axis=2) > 0) | (x[:, :, 0] + x[:, :, 1] > SEEMS)
        use = stored["use"][:, None] & (full | (rng.random(full.shape) < KEPT_EMPTY))
        use &= rng.random(full.shape) < share / (many[song_of(file)] * max(int(use.sum()), 1))
        columns = [x[use]]
        if first is not None:
            once = heard_once(x, first)
            around = context(once.sounds, once.struck, once.lowest, int(stored["bar"]))
            columns.append(np.stack([column[use] for column in around.values()], axis=1))
        weight = np.where(full, 1.0, 1.0 / KEPT_EMPTY)[use].astype(np.float32)
        parts.append((np.concatenate(columns, axis=1).astype(np.float16), y[use], weight))
    xs, ys, ws = zip(*parts, strict=True)
    return np.concatenate(xs), np.concatenate(ys), np.concatenate(ws)


def fit_notes(x: Singles, y: Singles, w: Singles, nodes: int) -> dict[str, Singles]:
    """Weights of the hidden layer and the direct ones, on features as they are."""
    rng = np.random.default_rng(0)
    some = x[rng.choice(len(x), min(len(x), 200_000), replace=False)].astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + 1e-3
    f = x.shape[1]
    p = {
        "into": rng.normal(0, f**-0.5, (f, nodes)).astype(np.float32),
        "into_bias": np.zeros(nodes, np.float32),
        "out": rng.normal(0, 1.2 * nodes**-0.5, (nodes, 3)).astype(np.float32),
        "direct": np.zeros((f, 3), np.float32),
        "bias": np.array([-3, -4, -5], np.float32),
    }
    first, second = ({k: np.zeros_like(v) for k, v in p.items()} for _ in range(2))
    step, steps = 0, EPOCHS * max(len(x) // BATCH, 1)
    for epoch in range(EPOCHS):
        order, loss = rng.permutation(len(x)), []
        for begin in range(0, max(len(x) - BATCH, 0) + 1, BATCH):
            rows = order[begin : begin + BATCH]
            z = (x[rows].astype(np.float32) - mean) / spread
            t, weight = y[rows], w[rows][:, None]
            node = np.tanh(z @ p["into"] + p["into_bias"])
            chance = 1 / (1 + np.exp(-(node @ p["out"] + z @ p["direct"] + p["bias"])))
            log = t * np.log(chance + 1e-7) + (1 - t) * np.log(1 - chance + 1e-7)
            loss.append(float(-(weight * log).sum() / weight.sum()))
            slope = weight * (chance - t) / len(rows)
            back = (slope @ p["out"].T) * (1 - node * node)
            slopes = {
                "into": z.T @ back,
                "into_bias": back.sum(axis=0),
                "out": node.T @ slope,
                "direct": z.T @ slope,
                "bias": slope.sum(axis=0),
            }
            step += 1
            for name, g in slopes.items():
                first[name] = 0.9 * first[name] + 0.1 * g
                second[name] = 0.999 * second[name] + 0.001 * g * g
                size = np.sqrt(second[name] / (1 - 0.999**step)) + 1e-8
                p[name] -= (RATE * (1 - step / steps) + 1e-5) * first[name] / (1 - 0.9**step) / size
        print(f"epoch {epoch}: loss {np.mean(loss):.4f}")
    into, direct = p["into"] / spread[:, None], p["direct"] / spread[:, None]
    bias = p["bias"] - mean @ direct
    return p | {
        "into": into,
        "into_bias": p["into_bias"] - mean @ into,
        "direct": direct,
        "bias": bias,
    }


def write_notes(once: dict[str, Singles], again: dict[str, Singles], about: dict[str, str]) -> None:
    """The tables in the package, a line for each feature and node."""

    def short(row: Any) -> list[float]:
        return [float(f"{v:.4g}") for v in row]

    def table(p: dict[str, Singles], names: tuple[str, ...]) -> dict[str, Any]:
        rows = np.concatenate((p["into"], p["direct"]), axis=1)
        nodes = np.concatenate((p["into_bias"][:, None], p["out"]), axis=1)
        return {
            "features": {name: short(rows[i]) for i, name in enumerate(names)},
            "nodes": [short(row) for row in nodes],
            "bias": short(p["bias"]),
        }

    names = feature_names()
    stored = json.loads((HOME / "weights.json").read_text(encoding="utf-8"))
    both = {"first": table(once, names), "second": table(again, names + context_names())}
    kept = {name: stored[name] for name in ("about", "columns")}
    text = json.dumps(kept | about | both, indent=1, ensure_ascii=False)
    text = re.sub(r"\[\s+([^\[\]]*?)\s+\]", lambda m: "[" + " ".join(m[1].split()) + "]", text)
    (HOME / "weights.json").write_text(text + "\n", encoding="utf-8")


def fit_glides(paths: list[Path]) -> Floats:
    """Bias and weights of `glide_features`."""
    xs, ys = [], []
    for path in paths:
        about, (spectra, strength, edges, per, _) = heard(path)
        x = glide_features(movement(whiten(spectra)), strength, edges)
        y, use = np.zeros(len(x)), np.ones(len(x), bool)
        for start, *_ in about["glides"]:
            at = round(start * per)
            y[at] = 1.0
            use[[(at - 1) % len(x), (at + 1) % len(x)]] = False  # half a glide is neither
        xs.append(x[use])
        ys.append(y[use])
    x, y = np.concatenate(xs), np.concatenate(ys)
    mean, spread = x.mean(axis=0), x.std(axis=0) + 1e-6
    z = np.column_stack((np.ones(len(x)), (x - mean) / spread))
    penalty = np.full(z.shape[1], 2 * PENALTY)
    penalty[0] = 0.0
    theta = np.zeros(z.shape[1])
    theta[0] = -4.0
    for _ in range(30):
        chance = 1 / (1 + np.exp(-z @ theta))
        slope = z.T @ (chance - y) + penalty * theta
        bend = (z * (chance * (1 - chance))[:, None]).T @ z + np.diag(penalty + 1e-9)
        theta -= np.linalg.solve(bend, slope)
    weights = theta[1:] / spread
    print(f"{int(y.sum())} glides in {len(y)} eighths")
    return np.append(theta[0] - mean @ weights, weights)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--glides", action="store_true")
    args = parser.parse_args()
    truth = args.folders if args.glides else args.folders[1:]
    paths = sorted(path for folder in truth for path in folder.glob("*.json"))
    songs = len({path.stem.split("-")[0] for path in paths})
    names = ", ".join(folder.name for folder in truth)
    fitted = f"{len(paths)} renders of {songs} songs in {names}"
    if not args.glides:
        files = store(paths, args.folders[0])
        once = fit_notes(*note_rows(files, None), NODES)
        again = fit_notes(*note_rows(files, Weights(**once)), NODES_AGAIN)
        write_notes(once, again, {"fitted": fitted, "figures": "measure!"})
        return
    some = [path for i, path in enumerate(paths) if path.stem.endswith("-glide") or i % 4 == 0]
    stored = json.loads((HOME / "glides.json").read_text(encoding="utf-8"))
    stored |= {"fitted": fitted, "figures": "measure!"}
    stored["weights"] = [float(f"{v:.4g}") for v in fit_glides(some)]
    text = json.dumps(stored, indent=1, ensure_ascii=False)
    (HOME / "glides.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
