"""The text report: grouping, what a pipe gets, narrow terminals, and streams without Unicode."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import pytest
from report_cases import (
    BAR,
    DIVISION,
    E1,
    FS1,
    chart_of,
    finding,
    full_report,
    midi_bytes,
    plain_line,
    roll_song,
    wrong_note_song,
    wrong_notes,
)

from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.judging.fingerprint import numbered
from basslint.judging.results import FileReport, Finding, Report, Unjudged
from basslint.report.drawing.marks import bar_list
from basslint.report.formats.html import html
from basslint.report.formats.markdown import report_markdown
from basslint.report.formats.page_song import song_data
from basslint.report.formats.text import print_report
from basslint.report.grouping import grouped, place, todo


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def written(report: Report, width: int | None = None, encoding: str | None = None) -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding or "utf-8", newline="\n")
    print_report(report, stream, width=width)
    stream.flush()
    return raw.getvalue().decode(encoding or "utf-8")


def one_file(*findings, chart=None, unjudged=()):
    chart = chart or wrong_note_song()
    return Report((FileReport(path=chart.path, chart=chart, findings=findings, unjudged=unjudged),))


def test_a_fault_that_repeats_is_said_once_with_all_its_bars():
    chart = wrong_note_song()
    text = written(one_file(*wrong_notes(chart), chart=chart))
    assert text.count("F#1 holds 2 beats under Em") == 1
    assert "● error  bars 5 and 13, beat 1" in text
    assert "● 2 errors" in text  # counted one by one all the same
    assert "\n  1 thing in 2 findings: 1 is mended safely\n" in text  # as the page says it


def test_one_finding_is_not_counted_beside_itself():
    chart = wrong_note_song()
    first, second = wrong_notes(chart)
    assert "thing" not in written(one_file(first, second.waive("meant"), chart=chart))


def test_a_page_says_how_many_findings_are_one_thing():
    first, second = wrong_notes(wrong_note_song())
    assert todo(grouped([first, second])) == "1 thing in 2 findings: 1 is mended safely"
    assert todo(grouped([first, second.waive("meant")])) == "1 thing: 1 is mended safely"
    assert todo(grouped([replace(first, cause=""), second])) == "2 things: 2 are mended safely"


def test_a_group_whose_beats_differ_names_the_bars_alone():
    chart = wrong_note_song()
    first, second = wrong_notes(chart)
    later = replace(second, where=replace(second.where, beat=3.0))
    assert place(grouped([first, later])[0]) == "bars 5 and 13"


def test_what_comes_a_hair_before_a_bar_is_counted_with_that_bar():
    chart = wrong_note_song()
    first, second = (
        replace(found, where=replace(found.where, beat=4.98, beats=4))
        for found in wrong_notes(chart)
    )
    assert place(grouped([first, second])[0]) == "just before bars 6 and 14"
    later = replace(second, where=replace(second.where, beat=3.0))
    assert place(grouped([first, later])[0]) == "bars 6 and 13"


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ([(5, 6)], "bar 5"),
        ([(1, 5)], "bars 1–4"),
        ([(5, 6), (9, 10), (13, 14)], "bars 5, 9 and 13"),
        ([(1, 3), (9, 10)], "bars 1–2 and 9"),
        ([(b, b + 1) for b in range(1, 30, 2)], "bars 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23"
         " and 3 more"),
    ],
)  # fmt: skip
def test_bars_are_named_as_people_name_them(bars, words):
    assert bar_list(bars) == words


def test_a_pipe_gets_plain_text_of_at_most_80_columns():
    text = written(full_report())
    assert "\x1b" not in text
    assert max(len(line) for line in text.splitlines()) <= 80
    assert not any(line != line.rstrip() for line in text.splitlines())


def test_a_pipe_keeps_a_long_path_whole():
    path = f"beats/{'long-' * 30}name.mid"
    report = Report((replace(full_report().files[1], path=path),))
    assert path in written(report).splitlines()


@pytest.mark.parametrize("width", [40, 60, 100])
def test_a_narrow_terminal_breaks_words_not_drawings(width):
    text = written(full_report(), width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "× F#1" in text and "░" in text


def test_a_terminal_gets_colour_unless_no_color_is_set(monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    coloured = Terminal()
    print_report(full_report(), coloured, width=80)
    assert re.search(r"\x1b\[[0-9;]*3[0-7]m", coloured.getvalue())
    monkeypatch.setenv("NO_COLOR", "1")  # no-color.org
    plain = Terminal()
    print_report(full_report(), plain, width=80)
    assert not re.search(r"\x1b\[[0-9;]*3[0-7]m", plain.getvalue())


def test_colours_only_repeat_what_the_text_says(monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    terminal = Terminal()
    print_report(full_report(), terminal, width=80)
    assert re.sub(r"\x1b\[[0-9;]*m", "", terminal.getvalue()) == written(full_report(), width=80)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_a_stream_without_the_marks_gets_the_ascii_ones(encoding):
    name = finding(wrong_note_song(), 4 * BAR, 5 * BAR, E1, message="Über “E1” ♭ 鼓")
    text = written(one_file(name), encoding=encoding)
    assert "@ error" in text and "x E1" not in text.split("fix")[0].split("beat 1")[0]
    assert '"E1"' in text
    assert not set(text) & set("●▐▒░◇…–")


def test_what_was_not_judged_is_told_once_per_reason():
    silent = "no harmony sounds here"
    unjudged = (
        Unjudged("off-root", 1, 3, silent),
        Unjudged("outside-scale", 1, 3, silent),
        Unjudged("off-root", 9, 10, silent),
        Unjudged("outside-scale", 9, 10, silent),
        Unjudged("slide-after-decay", 1, 17, "the decay is not known"),
    )
    lines = written(one_file(unjudged=unjudged)).splitlines()
    at = lines.index("not judged")
    assert lines[at + 1] == f"  off-root, outside-scale, bars 1–2 and 9: {silent}"
    assert lines[at + 2] == "  slide-after-decay, whole song: the decay is not known"


@pytest.mark.parametrize(
    ("count", "named"), [(6, "r0, r1, r2, r3, r4, r5"), (25, "r0, r1, 23 more rules")]
)
def test_many_rules_that_did_not_judge_for_one_reason_are_counted(count, named):
    unjudged = tuple(Unjudged(f"r{n}", 1, 17, "no bass") for n in range(count))
    assert f"  {named}, whole song: no bass" in written(one_file(unjudged=unjudged))


def test_what_no_file_could_be_judged_by_is_told_once():
    why = "the decay is not known"
    chart = wrong_note_song()
    files = [
        FileReport(
            path=f"{n}.mid", chart=chart, unjudged=(Unjudged("slide-after-decay", 1, 17, why),)
        )
        for n in range(3)
    ]
    text = written(Report(tuple(files)))
    assert text.count(why) == 1 and "not judged in any file" in text
    assert "0.mid\n  nothing is off" in text and "\n1.mid\n" in text
    files[1] = replace(files[1], unjudged=(Unjudged("slide-after-decay", 1, 5, why),))
    apart = written(Report(tuple(files)))
    assert apart.count(why) == 3 and "in any file" not in apart


def test_a_clean_file_says_so_and_an_unreadable_one_says_why():
    text = written(full_report())
    assert "nothing is off" in text
    assert "could not be read: Track 1 announces 400 bytes" in text
    assert "3 files checked" not in text and "2 files checked, 1 not readable" in text


def test_a_waived_finding_is_listed_with_its_reason_and_not_counted():
    text = written(full_report())
    assert "~ waived  warning too-low, bar 9, beat 1: The club system carries it." in text
    assert "◐ 0 warnings" in text and "~ 1 waived" in text


def test_a_fault_of_basslint_is_shown_as_its_own():
    file = replace(full_report().files[1], faults=("off-root failed: KeyError: 3",))
    assert "basslint's own fault: off-root failed: KeyError: 3" in written(Report((file,)))


def test_mending_is_explained_only_where_there_is_something_to_mend():
    chart, roll = roll_song()
    assert "basslint mend" in written(one_file(roll, chart=chart))
    assert "basslint mend" not in written(one_file(roll.waive("meant"), chart=chart))
    assert "basslint mend" not in written(one_file(replace(roll, fix=None), chart=chart))


def test_a_song_without_a_bass_and_key_is_headed_in_words():
    chart = chart_of(midi_bytes(plain_line(4), 4), bass=())
    chart.keys.tonic[:] = -1
    text = written(one_file(chart=chart))
    assert "nothing is off  4 bars · 0:07 · 140 bpm · 4/4 · key not told · no bass" in text
    # 16 quarters at 140 a minute last 6.857 s
    assert chart.song.end_tick == DIVISION * 16


def test_a_song_without_a_bass_is_not_called_clean_where_rules_could_not_judge():
    """No finding means nothing where nothing was judged; each format says so in its headline."""
    chart = chart_of(midi_bytes(plain_line(4), 4), bass=())
    why = "no bass part was found; name it with --bass"
    blind = tuple(Unjudged(rule, 1, 5, why) for rule in ("off-root", "too-low"))
    report = one_file(chart=chart, unjudged=blind)
    said = "no bass part was found, so 2 rules did not judge"
    assert f"\n  {said}  4 bars" in written(report)
    assert report_markdown(report, ()).startswith(f"### basslint: {said}\n")
    page = html(report, ())
    assert f"<strong>{said[0].upper()}{said[1:]}.</strong>" in page
    for told in (written(report), report_markdown(report, ()), page):
        assert "nothing is off" not in told.lower()
    two = Report((report.files[0], FileReport(path="b.mid", chart=wrong_note_song())))
    assert "### basslint: no bass part was found in 1 file, so 2" in report_markdown(two, ())


def several() -> tuple[Chart, list[Finding]]:
    """F#1 thrice in bar 5 and once in bar 13, held for other lengths."""
    line = plain_line(16)
    line[8:10] = [(16.0, 1.0, FS1, 100), (17.0, 0.5, FS1, 100), (18.0, 2.0, FS1, 100)]
    line = [n for n in line if n[0] != 48.0] + [(48.0, 2.0, FS1, 100)]
    chart = chart_of(midi_bytes(line))
    spans = [(16.0, 1.0), (17.0, 0.5), (18.0, 2.0), (48.0, 2.0)]
    found = [
        finding(
            chart, round(at * DIVISION), round((at + long) * DIVISION), FS1, rule="off-root",
            message=f"F#1 holds {long:g} beats under Em; the root is E.", cause="", fingerprint="",
        )
        for at, long in spans
    ]  # fmt: skip
    return chart, list(numbered(found, chart.song.grid))


def test_findings_that_differ_in_measured_numbers_alone_are_one_group():
    chart, found = several()
    (group,) = grouped(found)
    assert place(group) == "4 times, bars 5 and 13"
    assert (group.first, group.rows) == (found[0], (0, 1, 2, 3))
    text = written(one_file(*found, chart=chart))
    assert text.count("off-root") == 1 and "4 errors" in text
    other = replace(found[1], fix=Fix("Move F#1 to G1", "safe", ()))
    assert len(grouped([found[0], other])) == 2  # what would be done differs


def test_all_of_a_group_that_a_strip_shows_are_marked_in_it():
    chart, found = several()
    text = written(one_file(*found, chart=chart))
    wrong = next(line for line in text.splitlines() if "× F#1" in line)
    mended = next(line for line in text.splitlines() if "◇ E1" in line)
    assert wrong.count("×") == 1 + 3  # the label's, and the three of bar 5; bar 13 is not in view
    assert mended.count("◇") == 1 + 3


def test_the_roll_of_a_page_has_one_pin_for_a_group_and_bar():
    chart, found = several()
    report = one_file(*found, chart=chart)
    (group,) = grouped(found)
    (told,) = json.loads(song_data(report.files[0], chart, [group], ["f"], 4).text)["findings"]
    bars = [start // (4 * DIVISION) + 1 for start, _ in told["places"]]
    assert bars == [5, 13]
    assert html(report, ()).count('class="finding error"') == 1
