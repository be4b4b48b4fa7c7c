"""Is a bass tuned as the loop under it, by its sound and by bends that hold it off its keys?"""

from __future__ import annotations

import pytest
from beats import heard

from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

RULE = tuple(rule for rule in read_book() if rule.name == "bass-off-loop")
BEAT = """tempo 140
loop-cents {loop}
sound-cents {sound}
keys | A3+C4+E4:4 |*4
sub wheel 2
sub bend | {bends} | | | |
sub | A1:3.5 .:.5 |*4
"""


@pytest.mark.parametrize(
    ("loop", "sound", "bends", "said"),
    [
        (0, 0, "", None),
        (-35, 0, "", "35 cents sharp"),
        (-35, -35, "", None),
        # a wheel that holds every note off its key
        (0, 0, "1:-0.35", "35 cents flat"),
        (-35, 0, "1:-0.35", None),
        (-35, -35, "1:-0.35", "35 cents flat"),
        # the note of one name, not the nearest way round: a semitone off would be no cure
        (40, -20, "", "60 cents flat of"),
        (-40, 30, "", "70 cents sharp of"),
        # near a quarter tone both ways are told, unless one of them is close enough
        (48, 0, "", "48 cents flat of the loop, or 52 sharp: near a quarter tone"),
        (-48, 0, "", "48 cents sharp of the loop, or 52 flat: near a quarter tone"),
        (0, 47, "", "47 cents sharp of the loop, or 53 flat: near a quarter tone"),
        (48, -20, "", "32 cents sharp of the loop, or 68 flat: near a quarter tone"),
        (48, -48, "", None),
        (-45, 40, "", None),
        # whole semitones are other notes, not a tuning
        (0, 0, "1:+1", None),
        (-35, 0, "1:-1.35", None),
        # one bent note of four, and a slide, are no tuning
        (0, 0, "1:-0.35 4.8:0", None),
        (0, 0, "1:0 2:0 3:+2 4.8:0", None),
    ],
)
def test_sound_and_bends_stand_off_the_loop(
    loop: int, sound: int, bends: str, said: str | None
) -> None:
    beat = BEAT.format(loop=loop, sound=sound, bends=bends)
    if not bends:
        beat = "\n".join(x for x in beat.split("\n") if " bend " not in x and " wheel " not in x)
    messages = [finding.message for finding in judge(heard(beat), RULE).findings]
    assert messages == ([] if said is None else messages[:1])
    assert said is None or said in messages[0]
