"""How the text of many songs is joined: blank lines, what is said once for all, the summary."""

from __future__ import annotations

import pytest

from basslint.judging.results import Problem, Unjudged
from basslint.report.formats.text import assemble
from basslint.report.section import Run, Section, Tally
from basslint.util.records import replace

WHY = "the decay is not known"
BROKEN = Section(
    path="c.mid", text="c.mid\n", tally=Tally(), problem=Problem("damaged", "It is damaged.")
)


def song(name: str, *unjudged: tuple[int, int], **more: object) -> Section:
    """A clean song of eight bars, with stretches that a rule did not judge."""
    blind = tuple(Unjudged("slide-after-decay", begin, end, WHY) for begin, end in unjudged)
    made = Section(path=name, text=f"{name}\n", tally=Tally(), bars=8, silent=True, unjudged=blind)
    return replace(made, **more)


def told(*sections: Section, run: Run | None = None) -> list[str]:
    return "".join(assemble(sections, run or Run())).splitlines()


FOUND = song("b.mid", silent=False)
SUMS = "● 0 errors  ◐ 0 warnings  ○ 0 notes"


@pytest.mark.parametrize(
    ("sections", "lines"),
    [
        ([song("a.mid"), song("b.mid")], ["a.mid", "b.mid", ""]),  # clean ones stand close
        ([song("a.mid"), FOUND, song("c.mid")], ["a.mid", "", "b.mid", "", "c.mid", ""]),
        (
            [song("a.mid"), song("b.mid", (3, 5)), song("c.mid")],
            [
                "a.mid", "", "b.mid", "", "not judged",
                f"  slide-after-decay, bars 3–4: {WHY}", "", "c.mid", "",
            ],
        ),
        (
            [song("a.mid", (1, 9)), song("b.mid", (1, 9)), BROKEN],  # it was not judged at all
            [
                "a.mid", "b.mid", "", "c.mid", "", "not judged in any file",
                f"  slide-after-decay: {WHY}", "",
            ],
        ),
        (
            [song("a.mid", (1, 9)), song("b.mid", (2, 9))],  # judged in the first bar of one
            [
                "a.mid", "", "not judged", f"  slide-after-decay, whole song: {WHY}", "",
                "b.mid", "", "not judged", f"  slide-after-decay, bars 2–8: {WHY}", "",
            ],
        ),
        (
            [song("a.mid", (1, 9)), song("b.mid", (1, 8))],  # in the last
            [
                "a.mid", "", "not judged", f"  slide-after-decay, whole song: {WHY}", "",
                "b.mid", "", "not judged", f"  slide-after-decay, bars 1–7: {WHY}", "",
            ],
        ),
        (
            [song("a.mid", (1, 9))],  # one song speaks for itself
            ["a.mid", "", "not judged", f"  slide-after-decay, whole song: {WHY}", ""],
        ),
    ],
)  # fmt: skip
def test_songs_are_joined(sections: list[Section], lines: list[str]) -> None:
    assert told(*sections)[:-1] == lines


@pytest.mark.parametrize(
    ("sections", "line"),
    [
        ([song("a.mid")], f"1 file checked:  {SUMS}"),
        ([song("a.mid"), song("b.mid"), BROKEN], f"2 files checked, 1 not readable:  {SUMS}"),
        (
            [
                song("a.mid", tally=Tally(error=1, note=2, waived=1)),
                song("b.mid", tally=Tally(warning=1, note=1, waived=2)),
            ],
            "2 files checked:  ● 1 error  ◐ 1 warning  ○ 3 notes  ~ 3 waived",
        ),
    ],
)
def test_the_last_line_counts_files_and_findings(sections: list[Section], line: str) -> None:
    assert told(*sections)[-1] == line


def test_remarks_marks_and_how_to_mend_are_told_where_they_are_of_use() -> None:
    plain = " ".join(told(song("a.mid"), run=Run(remarks=("One waiver is over.",))))
    assert "One waiver is over. 1 file checked" in plain
    assert "as written" not in plain and "basslint mend" not in plain
    drawn = " ".join(told(song("a.mid"), song("b.mid", drawn=True)))
    assert "as written" in drawn and "basslint mend" not in drawn
    mendable = " ".join(told(song("a.mid"), song("b.mid", mendable=True)))
    assert "basslint mend FILE applies the safe fixes" in mendable and "as written" not in mendable
