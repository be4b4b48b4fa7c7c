"""Numbers that rule pages state, worked out again from published values.

ISO 389-7 and ISO 226:2003: threshold, exponent and transfer of hearing at 25, 31.5 and 100 Hz, as
printed in their tables; between 25 and 31.5 Hz on a logarithmic scale of frequency.
"""

from __future__ import annotations

import math

import pytest

from basslint.rulebook.loader import read_book
from basslint.theory.tuning import frequency

PAGES = {rule.name: rule for rule in read_book()}
# Hz -> (exponent, transfer in dB, threshold in dB): ISO 226:2003, table 1; ISO 389-7
HEARING = {25.0: (0.506, -27.2, 68.7), 31.5: (0.480, -23.0, 59.5), 100.0: (0.367, -8.1, 26.5)}
E1, F1, A1 = 28, 29, 33


def level(hz: float, phon: float | None) -> float:
    """Level of a tone of some loudness, ISO 226:2003, formula 1; None: at the threshold."""
    exponent, transfer, threshold = HEARING[hz]
    if phon is None:
        return threshold
    part = 4.47e-3 * (10 ** (0.025 * phon) - 1.15)
    part += (0.4 * 10 ** ((threshold + transfer) / 10 - 9)) ** exponent
    return 10 / exponent * math.log10(part) - transfer + 94


@pytest.mark.parametrize(("phon", "stated"), [(None, "about 35 dB"), (40, "about 25 dB")])
def test_how_much_more_level_the_ear_asks_for_at_30_hz(phon: float | None, stated: str) -> None:
    share = math.log(31.5 / 30) / math.log(31.5 / 25)
    at_30 = (1 - share) * level(31.5, phon) + share * level(25.0, phon)
    assert f"about {round(at_30 - level(100.0, phon))} dB" == stated
    assert stated in PAGES["too-low"].body


def periods(pitch: int, beats: float, tempo: float) -> float:
    return frequency(pitch) * beats * 60 / tempo


def test_waves_of_short_low_notes() -> None:
    """A sixteenth on E1 at 140 has four periods; three are the least that roll-blurs asks for."""
    assert int(periods(E1, 1 / 4, 140)) == 4
    assert "gives a low E four periods" in PAGES["off-root"].body
    assert PAGES["roll-blurs"].numbers["fewest_periods"] == 3
    assert (
        round(periods(E1, 1 / 16, 140), 1) == 1.1 and round(periods(E1 + 24, 1 / 16, 140), 1) == 4.4
    )
    assert "1.1 periods" in PAGES["roll-blurs"].body and "4.4 periods" in PAGES["roll-blurs"].body
    assert round(1 / (60 / 140 / 16)) == 37 and "37 times a second" in PAGES["roll-blurs"].body


def test_fourths_of_a_minor() -> None:
    """Pitch classes of A natural minor, Open Music Theory: a fourth up is the note three
    further on in the scale."""
    scale = [9, 11, 0, 2, 4, 5, 7]
    fourth = {tone: (scale[(n + 3) % 7] - tone) % 12 for n, tone in enumerate(scale)}
    assert fourth[9] == 5 and fourth[5] == 6
    assert (9 + 6) % 12 not in scale
    text = PAGES["slide-off-scale"].body
    assert "five semitones long from A to D and six from F to B" in text


def test_beats_and_bands() -> None:
    apart = frequency(A1) * (2 ** (20 / 1200) - 1)
    assert f"{apart:.1f} times a second" in PAGES["bass-off-loop"].parameters[0].reason
    band = 0.108 * frequency(A1) + 24.7  # Glasberg and Moore 1990
    assert f"about {round(band)} Hz at A1" in " ".join(PAGES["two-basses"].body.split())
    assert frequency(A1 + 7) - frequency(A1) < band < frequency(A1 + 12) - frequency(A1)


def test_a_slide_that_is_late_by_arithmetic() -> None:
    """ISO 3382: a decay falls by 60 dB in T60. 600 ms: 24 dB after 240 ms."""
    assert 60 * 240 / 600 == 24
    beat = 60_000 / 140
    assert round(2 * beat, -1) == 860 and 0.5 * beat < 240 < 0.6 * beat
    landing = beat / 4 + 100  # a quarter of a beat after the hit, and a glide of 100 ms
    assert f"lands at −{round(60 * landing / 600)} dB" in PAGES["slide-after-decay"].body
