"""Fit the table of chords by which loops of sound are heard. Deliberate: figures change.

    python tests/bench/fit_loop_chords.py SONGS          # writes basslint/audio/chords.json

SONGS holds songs as render_loops.py reads them (../shared/tools): notes, and chords as labels. Of
those numbered 1 mod 4 with one key, pieces of 8 or 16 bars are heard as written, with all notes and
from G3 up. Counted: roots by degree of the key, what follows what, qualities by degree. Fitted:
what each interval above a root says of it, by maximum conditional likelihood of the labelled roots
(a conditional random field, Lafferty et al., ICML 2001; the quality is free), the key known, with a
quadratic penalty on the distance from the weights for MIDI (`hear/harmony/chords.py`).

The scales with which this is heard in sound stand in `audio/roots.py`. They were found on 176
renders of the same songs, notes heard by weights from the other half of the songs, one at a time
up and down while the mean log chance of the true root rose; so were the two powers below.
"""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path
from typing import Any

import mido
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

import basslint.audio
from basslint.hear.harmony import chords, roots
from basslint.hear.harmony.accents import metrical_accents
from basslint.hear.harmony.loop import mean_of_repeats
from basslint.hear.harmony.segments import cut
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.chords import QUALITIES, TONES

sys.path.insert(0, str(Path("../shared/tools").resolve()))
import render_loops  # of the tools beside the checkout

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

KINDS, TICKS = len(QUALITIES), 480
POWER = 0.4  # of what was counted of degrees: what is common is so by half for loops
QUALITY_POWER = 0.35
SAME = 0.035  # chance that a change keeps the root, as in audio/roots.py
SMOOTH, SMOOTH_QUALITY = 2.0, 8.0  # seen of everything beside what was counted
PENALTY, ROUNDS = 1e-4, 30
MAJORITY = 0.5  # of an eighth that one label must cover
INTERVAL = (np.arange(12) - np.arange(12)[:, None]) % 12  # [root, pitch class]
HOME = Path(basslint.audio.__file__).parent


class Piece:
    """A few bars: ``heard`` [n, 48], ``change`` [n], ``root`` [n], −1 where no label is, all of
    them turned so that the major tonic of the key is 0.
    """

    def __init__(self, song: Any, loop: Any, tonic: int) -> None:
        segments = cut(*_notes(loop.notes, song.meter, loop.bars))
        heard = chords.hearing(segments)
        heard = heard + mean_of_repeats(heard, segments)
        self.heard = np.roll(heard.reshape(-1, 4, 12), -tonic, axis=2).reshape(-1, 48)
        odds = (
            np.array(roots._CHANGE)[metrical_accents(segments)]
            + roots._CHANGE_ONSETS * segments.onsets
            + roots._CHANGE_TURN * segments.harmonic_change
        )
        self.change = 1.0 / (1.0 + np.exp(-odds))
        per, n = max(8 // song.meter[1], 1), len(heard)
        share = np.zeros((n, 12))
        for start, end, root, *_ in loop.chords:
            for i in range(int(start * per), min(int(np.ceil(end * per)), n)):
                if root is not None:
                    both = min(end * per, i + 1) - max(start * per, i)
                    share[i, (root - tonic) % 12] += both
        self.root = np.where(share.max(axis=1) > MAJORITY, share.argmax(axis=1), -1)


def _notes(notes: list[list[float]], meter: tuple[int, int], bars: int) -> Any:
    """Notes and grid of a piece, by way of a file."""
    end, events = bars * meter[0] * TICKS, []
    for start, stop, pitch, velocity in notes:
        a, b = max(round(start * TICKS), 0), min(round(stop * TICKS), end)
        if b > a:
            row = (int(pitch), max(int(velocity), 1))
            events += [(a, "note_on", *row), (b, "note_off", *row)]
    head = mido.MidiTrack(
        [mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])]
    )
    head.append(mido.MetaMessage("end_of_track", time=end - 1))
    track, now = mido.MidiTrack(), 0
    for tick, kind, pitch, velocity in sorted(events, key=lambda e: (e[0], e[1] == "note_on")):
        track.append(mido.Message(kind, note=pitch, velocity=velocity, time=tick - now))
        now = tick
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS * meter[1] // 4, tracks=[head, track])
    out = io.BytesIO()
    midi.save(file=out)
    song = build(scan(out.getvalue()))
    return song.notes, song.grid


def tonic_of(key: tuple[int, str]) -> int:
    """The major tonic of a key's signature."""
    return (key[0] + (3 if key[1] == "minor" else 0)) % 12


def pieces_of(songs: list[Any]) -> list[Piece]:
    """Every other piece from G3 up and every third of all notes."""
    found: dict[str, list[Piece]] = {"up": [], "all": []}
    for song in songs:
        rng = np.random.default_rng(int(song.name))
        bars, at = int(rng.choice([8, 16])), song.phase
        while at + bars * song.bar < song.notes[:, 1].max():
            for register, pieces in found.items():
                loop = render_loops.cut_loop(song, 0, at, bars, 0, "piano", register)
                if render_loops.usable(loop):
                    pieces.append(Piece(song, loop, tonic_of(song.key)))
            at += bars * song.bar
    return found["up"][::2] + found["all"][1::3]


def counted(songs: list[Any]) -> tuple[Floats, Floats, Floats]:
    """Degrees [12], what follows what [12, 12], qualities by degree [q, 12], as in the table."""
    degrees, following, kinds = np.zeros(12), np.zeros((12, 12)), np.zeros((KINDS, 12))
    sets = [frozenset(tones) for tones in TONES.values()]
    for song in songs:
        before = None
        for _, _, root, _, held in song.chords:
            if root is None:
                before = None
                continue
            degree = (root - tonic_of(song.key)) % 12
            quality = _quality(frozenset((p - root) % 12 for p in held), sets)
            if quality is not None:
                kinds[quality, degree] += 1
            if degree != before:
                degrees[degree] += 1
                if before is not None:
                    following[before, degree] += 1
            before = degree
    degrees = (degrees + SMOOTH) / (degrees + SMOOTH).sum()
    following += SMOOTH * 6 * degrees
    np.fill_diagonal(following, 0.0)
    following = (following / following.sum(axis=1, keepdims=True)) ** POWER
    common = (kinds.sum(axis=1) + 1) / (kinds.sum(axis=1) + 1).sum()
    kinds += SMOOTH_QUALITY * common[:, None]
    kinds /= kinds.sum(axis=0)
    usual = chords.quality_share()[:, None] * (kinds / common[:, None]) ** QUALITY_POWER
    drawn = degrees**POWER
    return (
        drawn / drawn.sum(),
        following / following.sum(axis=1, keepdims=True),
        usual / usual.sum(axis=0),
    )


def _quality(above: frozenset[int], sets: list[frozenset[int]]) -> int | None:
    """The quality with these intervals above the root, or the largest one inside them."""
    if above in sets:
        return sets.index(above)
    inside = [(len(tones), k) for k, tones in enumerate(sets) if tones <= above]
    return max(inside)[1] if inside else None


def matrix(weights: Floats) -> Floats:
    """Log-weights [q, 12 roots, 48] of weights by interval [4, q, 12]."""
    return np.concatenate([group[:, INTERVAL] for group in weights], axis=2)


class Chain:
    """All pieces side by side, padded with eighths that say nothing and are free."""

    def __init__(self, pieces: list[Piece], tables: tuple[Floats, Floats, Floats]) -> None:
        n, count = max(len(p.heard) for p in pieces), len(pieces)
        self.heard = np.zeros((n, count, 48), np.float32)
        self.change = np.full((n, count), 0.5, np.float32)
        self.allowed = np.ones((n, count, 1, 12), np.float32)
        for k, piece in enumerate(pieces):
            m = len(piece.heard)
            self.heard[:m, k], self.change[:m, k] = piece.heard, piece.change
            told = np.flatnonzero(piece.root >= 0)
            self.allowed[told, k, 0] = np.eye(12)[piece.root[told]]
        self.eighths = sum(len(p.heard) for p in pieces)
        degrees, following, kinds = (t.astype(np.float32) for t in tables)
        self.onward = (1 - SAME) * following + SAME * np.eye(12, dtype=np.float32)
        self.kinds, self.first = kinds, degrees * kinds

    def posterior(self, likely: Singles) -> tuple[Singles, float]:
        """Chance of each chord [n, pieces, q, 12], and the log-likelihood of all pieces."""
        joint, total = np.empty_like(likely), 0.0
        now = np.broadcast_to(self.first, likely.shape[1:])
        for row, each in enumerate(likely):
            if row:
                turn = self.change[row][:, None, None]
                arrived = (now.sum(axis=1) @ self.onward)[:, None]
                now = (1 - turn) * now + turn * arrived * self.kinds
            now = now * each
            size = now.sum(axis=(1, 2), keepdims=True)
            joint[row] = now = now / size
            total += float(np.log(size).sum())
        after = np.ones_like(now)
        for row in range(len(likely) - 1, -1, -1):
            joint[row] *= after
            joint[row] /= joint[row].sum(axis=(1, 2), keepdims=True)
            turn, after = self.change[row][:, None, None], after * likely[row]
            leads = (after * self.kinds).sum(axis=1) @ self.onward.T
            after = (1 - turn) * after + turn * leads[:, None]
            after /= after.max(axis=(1, 2), keepdims=True)
        return joint, total

    def loss(self, flat: Floats, home: Floats) -> tuple[float, Floats]:
        """Mean negative log chance of the labelled roots, with the penalty, and its slope."""
        rows = matrix(flat.reshape(4, KINDS, 12)).reshape(-1, 48).astype(np.float32)
        weight = self.heard @ rows.T
        weight -= weight.max(axis=2, keepdims=True)
        likely = np.exp(weight).reshape(*weight.shape[:2], KINDS, 12)
        free, log_free = self.posterior(likely)
        held, log_held = self.posterior(likely * self.allowed)
        pull = np.einsum("npc,nph->ch", (held - free).reshape(*weight.shape), self.heard)
        pull = pull.reshape(KINDS, 12, 4, 12)
        slope = np.stack(
            [np.einsum("qrgp,rp->gq", pull, d == INTERVAL) for d in range(12)], axis=2
        ).ravel()
        far = flat - home
        loss = (log_free - log_held) / self.eighths + PENALTY * float((far**2).sum())
        return loss, 2 * PENALTY * far - slope / self.eighths


def write(weights: Floats, tables: tuple[Floats, Floats, Floats], fitted: str) -> None:
    """The table in the package, a line for each row of numbers."""

    def short(row: Any) -> list[float]:
        return [float(f"{v:.4g}") for v in row]

    path = HOME / "chords.json"
    stored = json.loads(path.read_text(encoding="utf-8"))
    names = list(QUALITIES)
    stored |= {"fitted": fitted, "figures": "measure!"}
    stored["evidence"] = {n: [short(g[k]) for g in weights] for k, n in enumerate(names)}
    stored["degrees"] = short(tables[0])
    stored["following"] = [short(row) for row in tables[1]]
    stored["qualities"] = {n: short(tables[2][k]) for k, n in enumerate(names)}
    text = json.dumps(stored, indent=1)
    text = re.sub(r"\[\s+([^\[\]]*?)\s+\]", lambda m: "[" + " ".join(m[1].split()) + "]", text)
    path.write_text(text + "\n", encoding="utf-8")


def main() -> None:
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    paths = sorted(p for p in Path(sys.argv[1]).glob("*.mid") if p.stem.isdigit())
    read = [render_loops.read_song(p) for p in paths if int(p.stem) % 4 == 1]
    songs = [s for s in read if s is not None and s.key is not None and s.meter[1] == 4]
    tables = counted(songs)
    chain = Chain(pieces_of(songs), tables)
    by_role = (chords._SOUNDING, chords._STRUCK, chords._BASS_LOW, chords._BASS_HIGH)
    home = np.stack([roles[chords._ROLE[:, 0]] for roles in by_role]).ravel()
    found = minimize(chain.loss, home, args=(home,), jac=True, options={"maxiter": ROUNDS})
    print(f"{len(songs)} songs, {chain.eighths} eighths: loss {found.fun:.4f}")
    write(found.x.reshape(4, KINDS, 12), tables, f"{len(songs)} songs in {Path(sys.argv[1]).name}")


if __name__ == "__main__":
    main()
