"""The eighths that the harmony is cut into. What counts as heard is common practice, no source."""

from __future__ import annotations

import pytest
from chord_songs import song_of

from basslint.hear.harmony.segments import cut

TPQ = 960  # an eighth is 480 ticks


@pytest.mark.parametrize(("ticks", "counts"), [(73, True), (71, False)])
def test_a_low_note_counts_from_three_twentieths_of_an_eighth_on(ticks: int, counts: bool) -> None:
    """A C under a held E and G, struck in the middle of the third eighth, where nothing snaps."""
    begin = 2 * 480 + 192
    low = (begin / TPQ, (begin + ticks) / TPQ, 48)
    song = song_of([(0.0, 4.0, 64), (0.0, 4.0, 67), low], tpq=TPQ)
    segments = cut(song.notes, song.grid)
    assert (segments.bass[2].argmax() == 0) == counts
    assert segments.bass[0].argmax() == 4
