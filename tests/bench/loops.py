"""How well are loops of sound heard? Figures on rendered loops.

    render_loops.py SONGS TRUTH --songs 3mod4 --loops 16 --seed 9     (../shared/tools)
    python tests/bench/loops.py hear TRUTH HEARD [CONDITION,...]
    score_roots.py TRUTH HEARD                                        (../shared/tools)
    python tests/bench/loops.py others TRUTH

``hear`` writes what is heard in each loop, with tempo, bars and beginning known, as
``score_roots.py`` reads it; length and beginning are heard once more with the tempo alone known.
``others`` writes sounds without harmony beside TRUTH (drums, noise, one held note, with the
soundfonts of the renders) and prints for which share of their time roots are told as certain.

Measured 2026-11-27 on songs 3mod4, which the weights have not seen, 16 base loops in 15 conditions
and both registers (480 renders), and on 9 more of a soundfont they have not seen either (270): see
DEVELOPERS.md.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from basslint.audio.answers import loop_keys, loop_roots
from basslint.audio.bars import Stated
from basslint.audio.loop import HeardLoop, hear_loop
from basslint.hear.harmony.roots import CERTAIN

_MINOR_THIRD = ("minor", "dorian", "phrygian", "locrian")


def told(heard: HeardLoop) -> dict[str, Any]:
    """What was heard, as ``score_roots.py`` reads it."""
    edges = heard.bars.eighths_s()
    best, sure = heard.by_root.argmax(axis=1), heard.by_root.max(axis=1)
    spans = zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
    roots = [
        {"start_s": a, "end_s": b, "root_pc": int(best[i]), "certainty": float(sure[i])}
        for i, (a, b) in enumerate(spans)
    ]
    keys = loop_keys(heard, loop_roots(heard))
    length = np.zeros(len(keys)) if not len(keys) else (keys.end - keys.start)
    row = int(np.argmax(length)) if len(keys) else -1
    ends = zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True)
    result: dict[str, Any] = {
        "roots": roots,
        "tuning_cents": heard.tuning.cents,
        "glides": [{"start_s": float(edges[a]), "end_s": float(edges[b])} for a, b in ends],
    }
    if row >= 0:
        minor = keys.mode[row] in _MINOR_THIRD
        result["key"] = [int(keys.tonic[row]), "minor" if minor else "major"]
    return result


def hear(truth: Path, out: Path, conditions: set[str]) -> None:
    """Hear every loop of a folder of renders."""
    out.mkdir(parents=True, exist_ok=True)
    spent = lasted = 0.0
    for path in sorted(truth.glob("*.json")):
        about = json.loads(path.read_text())
        if conditions and about["condition"] not in conditions:
            continue
        meter, sound = (*about["meter"],), path.with_suffix(".wav")
        begin = time.process_time()
        heard = hear_loop(
            sound,
            Stated(bpm=about["bpm"], bars=about["bars"], begins_s=about["offset_s"], meter=meter),
        )
        spent += time.process_time() - begin
        lasted += about["duration_s"]
        row = told(heard)
        alone = hear_loop(sound, Stated(bpm=about["bpm"], meter=meter)).bars
        row |= {"bars": alone.bars, "offset_s": alone.begins_s, "bpm": alone.bpm}
        (out / path.name).write_text(json.dumps(row))
    print(f"{spent / max(lasted, 1e-9):.4f} CPU-seconds per second of sound")


def others(folder: Path) -> None:
    """Make sounds without harmony and print how much of their time is told as certain."""
    sys.path.insert(0, str(Path("../shared/tools").resolve()))
    import render_loops as loops  # of the tools beside the checkout

    fonts = [font for font in loops.SOUNDFONTS if Path(font).is_file()]
    rng = np.random.default_rng(3)
    folder.mkdir(parents=True, exist_ok=True)
    for name, bpm, bars, sound in _others(loops, fonts, rng):
        path = folder / f"other-{name}.wav"
        soundfile.write(path, sound * 0.89 / np.abs(sound).max(), loops.RATE, subtype="PCM_16")
        heard = hear_loop(path, Stated(bpm=bpm, bars=bars))
        roots = loop_roots(heard)
        long = (roots.end - roots.start) / (roots.end[-1] - roots.start[0])
        share = float(long[roots.certainty >= CERTAIN].sum())
        print(f"{name:16} certain {share:.3f}, glides {len(heard.glides)}")


def _others(loops: Any, fonts: list[str], rng: np.random.Generator) -> Any:
    """Name, tempo, bars and samples of each."""
    for k in range(10):
        bpm, bars = float(rng.uniform(70, 170)), 4 * (1 + k % 2)
        rows = loops.drum_notes(bars * 4, (4, 4), 0, rng)
        if k % 2:  # with a roll over four toms before each bar line
            rows += [
                [b * 4 + 3 + i * 0.25, b * 4 + 3.2 + i * 0.25, [50, 48, 45, 43][i], 100]
                for b in range(bars)
                for i in range(4)
            ]
        kit = [0, 8, 16, 24, 25, 32, 40][k % 7]
        font = fonts[k % len(fonts)]
        yield f"drums-{k}", bpm, bars, loops.synth(rows, kit, bpm, bars * 4, font, drums=True)
    frames = 16 * loops.RATE
    hertz = np.fft.rfftfreq(frames, 1 / loops.RATE)[:, None]
    for name, power in (("pink", 0.5), ("white", 0.0), ("brown", 1.0)):
        spectrum = np.fft.rfft(rng.standard_normal((frames, 2)), axis=0)
        yield name, 120.0, 8, np.fft.irfft(spectrum / np.maximum(hertz, 20.0) ** power, frames, 0)
    held = [("strings", 57), ("piano", 48), ("choir", 64), ("brass", 55), ("pad", 70)]
    for k, (instrument, pitch) in enumerate([*held, ("epiano", 45), ("nylon", 52), ("steel", 69)]):
        lasts = instrument in loops.SUSTAINED
        rows = [[0, 16, pitch, 90]] if lasts else [[4 * i, 4 * i + 4, pitch, 90] for i in range(4)]
        sound = loops.synth(rows, loops.INSTRUMENTS[instrument], 100.0, 16, fonts[k % len(fonts)])
        yield f"held-{instrument}", 100.0, 4, sound


if __name__ == "__main__":
    words = sys.argv[1:]
    if len(words) >= 3 and words[0] == "hear":
        hear(Path(words[1]), Path(words[2]), set(words[3].split(",")) if len(words) > 3 else set())
    elif len(words) == 2 and words[0] == "others":
        others(Path(words[1]))
    else:
        sys.exit(__doc__)
