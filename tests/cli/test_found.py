"""What attacks have found (`tests/bench/attack.py`) does no harm any more.

The files in `tests/found` are called by the numbers with which the generator made them. A new one
is added here with its command, so that every run tries it, whatever becomes of the generator.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import pytest

from basslint.cli.main import main

FOUND = Path(__file__).parents[1] / "found"
LONGEST_S = 4.0  # of CPU: all take under 1 s on a calm machine; least of two tries

CASES = [
    # file, words after it (OUT: a file to write), how it ends, what it did
    ("510000890.mid", "audition --bars 1-2 --output OUT", 0),  # 2.7 s, 500 MB: 7 minutes of tones
    ("510114582.mid", "check --no-cache --format html", 1),  # 1.2 s: nudges without a bound
    ("510116531.json", "merge --output OUT", 2),  # exit 3: faults that are no sentences
    ("300103865.json", "merge --output OUT", 2),  # exit 3: a number that JSON does not know
    ("510118546.mid", "mend --by-ear --output OUT", 0),  # 2 s: two basses swapped for ever
    ("510609128.mid", "chart --format text", 0),  # 1.1 s
    ("520216134.mid", "audition --bars 1-2 --output OUT", 0),  # 16.5 s: a sine for each sample
    ("710100902.mid", "check --no-cache --format html", 1),  # 1.3 s: 3,886 bars in 3 kB
]


@pytest.mark.parametrize(("name", "words", "ends"), CASES, ids=[case[0] for case in CASES])
def test_what_an_attack_found_ends_with_a_sentence_and_soon(
    name: str, words: str, ends: int, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    command, *others = words.replace("OUT", str(tmp_path / "out")).split()
    took = []
    for _ in range(2):
        begin = time.process_time()
        assert main([command, str(FOUND / name), *others]) == ends
        took.append(time.process_time() - begin)
        assert "Traceback" not in capfd.readouterr().err
        if took[-1] < LONGEST_S:
            break
    assert min(took) < LONGEST_S


def test_a_page_of_thousands_of_bars_takes_few_calls(capfd: pytest.CaptureFixture[str]) -> None:
    """Calls of functions do not hang on the machine. They were 690,000 when phrases that hold the
    same were named each for itself, fours of bars were heard anew for each place to which a note
    can be moved, and bars did not count in how many places are tried."""
    calls = 0

    def counted(_frame: object, event: str, _what: object) -> None:
        nonlocal calls
        calls += event in ("call", "c_call")

    words = ["check", "--no-cache", "--format", "html"]
    main([*words, str(FOUND / "510114582.mid")])  # so that all is imported
    sys.setprofile(counted)
    try:
        main([*words, str(FOUND / "710100902.mid")])
    finally:
        sys.setprofile(None)
    assert 100_000 < calls < 350_000


def test_each_found_file_is_tried() -> None:
    assert sorted(case[0] for case in CASES) == sorted(path.name for path in FOUND.iterdir())


def test_two_basses_that_clash_are_not_swapped(capfd: pytest.CaptureFixture[str]) -> None:
    """Each would still meet the other; they had been swapped 108 times."""
    song = str(FOUND / "510118546.mid")
    assert main(["mend", song, "--by-ear", "--dry-run", "--format", "json"]) == 0
    told = json.loads(capfd.readouterr().out)
    assert [each["finding"]["rule"] for each in told["applied"]] == ["empty-note"]
