"""Facts that a program states: texts are read as in the settings, what is no fact is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

import basslint
from basslint.hear.facts import StatedKey

OFF = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"


@pytest.mark.parametrize(
    ("stated", "read"),
    [
        ({"bass": "Sub"}, ("Sub",)),
        ({"bass": ["Sub", "#2"]}, ("Sub", "#2")),
        ({"harmony": ("Keys",)}, ("Keys",)),
        ({"key": "F# minor"}, StatedKey(6, "minor")),
        ({"key": StatedKey(6, "minor")}, StatedKey(6, "minor")),
        ({"root_key": "C3"}, 48.0),
        ({"root_key": 127}, 127.0),
        ({"root_key": 0}, 0.0),
        ({"decay_s": 0.6}, 0.6),
        ({"glide_time_s": 3600}, 3600.0),
        ({"bend_range": 127}, 127.0),
        ({"transpose": -48}, -48.0),
        ({"cents": 4800}, 4800.0),
        ({"one_shot": True}, True),
    ],
)
def test_what_is_well_said_becomes_a_fact(stated: dict[str, object], read: object) -> None:
    facts = basslint.Settings().with_facts(**stated).facts
    (name,) = stated
    assert getattr(facts, name) == read


def test_a_line_of_chords_is_heard_as_in_the_settings() -> None:
    report = basslint.check(OFF, basslint.Settings().with_facts(chords="Am F C G"))
    assert report.files[0].chart is not None
    assert report.files[0].chart.roots.root.tolist()[:4] == [9, 5, 0, 7]


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ({"decay": 0.6}, "Did you mean decay_s?"),
        ({"warmth": 3}, "“warmth” is no fact that can be stated.\nThere are bass, harmony"),
        ({"bass": 3}, "bass: 3 names no parts"),
        ({"bass": [3]}, r"bass: \[3\] names no parts"),
        ({"key": "H minor"}, "“H minor” is no key"),
        ({"chords": "Am Xy"}, "Xy"),
        ({"root_key": "C"}, "“C” is no key of an instrument"),
        ({"root_key": 128}, "root_key: 128 is out of bounds.\nGive a number from 0 to 127"),
        ({"decay_s": "600ms"}, "decay_s: '600ms' is no number"),
        ({"decay_s": True}, "no number"),
        ({"decay_s": float("nan")}, "no number"),
        ({"decay_s": 0}, "decay_s: 0 is out of bounds.\nGive a number above 0 and at most 3600"),
        ({"glide_time_s": 3601}, "out of bounds"),
        ({"bend_range": 128}, "out of bounds"),
        ({"transpose": 48.5}, "out of bounds"),
        ({"cents": -4801}, "out of bounds"),
    ],
)
def test_what_is_no_fact_is_refused_with_what_to_do(stated: dict[str, object], told: str) -> None:
    with pytest.raises(basslint.BasslintError, match=told):
        basslint.Settings().with_facts(**stated)


def test_the_middle_c_of_the_settings_names_the_root_key() -> None:
    assert basslint.Settings(middle_c=3).with_facts(root_key="C3").facts.root_key == 60.0
