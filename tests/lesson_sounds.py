"""How far do the sides of a rule's example differ in what is heard of them?"""

from __future__ import annotations

import base64
import json

import numpy as np

from basslint.report.formats.plates import Plate

BLOCK, HOP = 17_640, 4_410  # 400 ms and a quarter of that at 44.1 kHz: the block of ITU-R BS.1770
WISH = {"bass": True, "harmony": True, "drums": True, "up": 0, "small": False}

_PLAYED = """given => {
  const data = given.data;
  const songs = data.songs.map(readSong);
  const sides = exampleSides(data, songs);
  const [first] = Object.values(data.sides);
  const player = makePlayer();
  const piece = { id: "example", sides, wish: { ...given.wish, decay: songs[0].data.decay },
    from: songs[first.song].seconds(first.span[0]), to: songs[first.song].seconds(first.span[1]) };
  const frames = Math.round((piece.to - piece.from) * voices.RATE);
  return Object.fromEntries(Object.keys(sides).map((side) => {
    const bytes = new Uint8Array(Float64Array.from(player.chunk(piece, side, 0, frames)).buffer);
    let text = "";
    for (let i = 0; i < bytes.length; i += 32768)
      text += String.fromCharCode(...bytes.subarray(i, i + 32768));
    return [side, btoa(text)];
  }));
}"""


def played(page, plate: Plate) -> dict[str, np.ndarray]:
    """Each side of an example as the page plays it, at full level, in samples of -1 to 1."""
    packed = page.evaluate(_PLAYED, {"data": json.loads(plate.data), "wish": WISH})
    return {side: np.frombuffer(base64.b64decode(text)) for side, text in packed.items()}


def apart_db(one: np.ndarray, other: np.ndarray) -> float:
    """RMS of the difference in the block of 400 ms where it is greatest, in dBFS."""
    size = min(len(one), len(other))
    difference = one[:size] - other[:size]
    blocks = [difference[at : at + BLOCK] for at in range(0, size, HOP)]
    return max(float(20 * np.log10(np.sqrt(np.mean(b**2)) + 1e-15)) for b in blocks)
