"""Chord qualities: told apart by their tones and by their suffixes, drawn as messages name them."""

from __future__ import annotations

import io

from beats import heard

from basslint.report.formats.chart_text import print_chart
from basslint.theory.chords import EXTENDED_SUFFIXES, IS_TONE, QUALITIES, SUFFIXES, TONES


def test_every_quality_has_tones_and_a_suffix_of_its_own() -> None:
    assert len(set(TONES.values())) == len(set(SUFFIXES.values())) == len(QUALITIES)
    assert not set(EXTENDED_SUFFIXES) & set(TONES.values())


def test_the_table_of_tones_holds_the_tones() -> None:
    assert [tuple(row.nonzero()[0].tolist()) for row in IS_TONE] == list(TONES.values())


def test_a_half_diminished_chord_is_drawn_as_messages_name_it() -> None:
    """It was once drawn as B, a chord it shares one tone with."""
    chart = heard(
        "tempo 120\nkey A minor\n"
        "keys | B2+D3+F3+A3:4 | B2+D3+F3+A3:4 | E3+G#3+B3+D4:4 | A2+C3+E3+A3:4 |*2"
    )
    out = io.StringIO()
    print_chart(chart, out, width=120)
    assert "Bm7b5" in out.getvalue()
