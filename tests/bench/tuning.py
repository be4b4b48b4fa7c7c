"""Is the cause told where a sampler plays a one-shot on another key? python tests/bench/tuning.py

Generated clean beats, each with a one-shot of a drawn pitch and root key: untuned, tuned, and
written by ear over the untuned sound (the line transposed so that what sounds is right). Counted:
the cause named as an error, other errors and warnings beside it, and anything told of a tuned beat
that is not told without a sound.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.beats import make_beat

from basslint.checking.one_file import check_bytes
from basslint.hear.facts import Facts
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings

BOOK = read_book()
RULE = "sampler-off-key"
LOUD = ("error", "warning")


def told(data: bytes, facts: Facts) -> Counter[tuple[str, str]]:
    """Rules and levels of what is told of a beat."""
    report = check_bytes(data, "beat", replace(Settings(), facts=facts), BOOK)
    return Counter((f.rule, f.level) for f in report.findings)


def loud(found: Counter[tuple[str, str]]) -> int:
    """Errors and warnings of other rules."""
    return sum(n for (rule, level), n in found.items() if level in LOUD and rule != RULE)


def main() -> None:
    """Print shares over the beats."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--beats", type=int, default=300)
    parser.add_argument("--seed", type=int, default=90_000)
    given = parser.parse_args()
    named = beside = accused = unknown = untuned = 0
    for seed in range(given.seed, given.seed + given.beats):
        dice, beat = random.Random(seed), make_beat(seed)
        own = dice.randint(24, 40)
        off = dice.choice([-5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6])
        plain = Facts()  # no decay: how it follows the playback speed is not the matter here
        before = loud(told(beat.data, plain))
        wrong = replace(plain, sound_pitch=float(own), root_key=float(own - off))
        found = told(beat.data, wrong)
        untuned += 1
        named += (RULE, "error") in found
        beside += loud(found) > before
        right = replace(plain, sound_pitch=own + dice.uniform(-0.08, 0.08), root_key=float(own))
        tuned = told(beat.data, right)
        accused += loud(tuned) > before or any(rule == RULE for rule, _ in tuned)
        asked = told(beat.data, replace(wrong, root_key=None))
        unknown += loud(asked) > before or (RULE, "error") in asked
    print(f"untuned: cause named {named / untuned:.3f}, more told beside it {beside / untuned:.3f}")
    print(
        f"tuned: accused {accused / untuned:.3f}; root key unknown: accused {unknown / untuned:.3f}"
    )


if __name__ == "__main__":
    main()
