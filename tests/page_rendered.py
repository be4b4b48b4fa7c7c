"""What the page's modules render, as samples."""

from __future__ import annotations

import base64

import numpy as np

from basslint.audition.mix import TAIL_S

WISH = {"bass": True, "harmony": True, "drums": True, "up": 0, "small": False}

AS_BYTES = """samples => {
  const bytes = new Uint8Array(new Float64Array(samples).buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768)
    text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return btoa(text);
}"""


def samples_of(modules, expression: str, **given: object) -> np.ndarray:
    text = modules.page.evaluate(f"given => ({AS_BYTES})({expression})", given)
    return np.frombuffer(base64.b64decode(text))


def bars_of(modules, first: int, last: int, wish: dict, mended: int = -1) -> np.ndarray:
    """The bars as the page renders them; ``mended``: with that finding's fix."""
    return samples_of(
        modules,
        """(() => {
          const from = song.seconds(song.barStart[given.first - 1]);
          const to = song.seconds(song.barStart[given.last]);
          const sound = given.mended < 0 ? written
            : sounds.mended(song, written, song.data.findings[given.mended].change);
          const count = Math.round((to - from + given.tail) * voices.RATE);
          return voices.render(sound, from, count, from, to, given.wish);
        })()""",
        first=first,
        last=last,
        wish=wish,
        mended=mended,
        tail=TAIL_S,
    )


def level_db(samples: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(samples**2)) + 1e-15))


def played(modules, finding: int, **wish: object) -> tuple[np.ndarray, np.ndarray]:
    """A finding's whole stretch, written and mended, as the player hands it on chunk by chunk."""
    both = samples_of(
        modules,
        """(() => {
          const f = song.data.findings[given.n];
          const player = makePlayer();
          const piece = { id: given.n, from: song.seconds(f.span[0]), to: song.seconds(f.span[1]),
            sides: { written, mended: sounds.mended(song, written, f.change) }, wish: given.wish };
          const frames = Math.round((piece.to - piece.from) * voices.RATE);
          const out = new Float64Array(2 * frames);
          ["written", "mended"].forEach((side, i) => {
            for (let at = 0; at < frames; at += 22050)
              out.set(player.chunk(piece, side, at, Math.min(22050, frames - at)), i * frames + at);
          });
          return out;
        })()""",
        n=finding,
        wish=WISH | {"decay": 1.5} | wish,
    )
    return both[: len(both) // 2], both[len(both) // 2 :]
