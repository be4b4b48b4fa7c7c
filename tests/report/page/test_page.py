"""The report page in a real browser: it loads cleanly, says what it should, stays small."""

from __future__ import annotations

import io
from pathlib import Path

import mido
from page_opened import Opened
from page_songs import TEA, beat_report, page_text, reported, tea_report, write_page

from basslint.cli.main import main
from basslint.report.formats.html import assemble, section
from basslint.report.section import Run, Sheet
from basslint.rulebook.loader import read_book

BOOK = read_book()
HOSTILE = (
    "<script>document.title='pwned'</script>\"'><img src=x onerror=alert(1)>\x1b[31m" + "A" * 9_900
)


def test_it_loads_without_a_complaint_and_asks_nobody(opened, tmp_path: Path) -> None:
    shown = opened(write_page(tmp_path, tea_report()))  # under its own policy
    assert shown.page.title() == "Bass line report: spilled-tea.mid"
    assert shown.page.locator(".finding").count() == 4
    assert shown.page.locator(".todo").inner_text() == ("4 things: 1 is mended safely, 3 by ear.")
    shown.page.locator(".field path.bass").wait_for(state="attached")
    assert shown.complaints == []


def test_the_policy_lets_nothing_but_its_own_script_and_style(opened, tmp_path: Path) -> None:
    path = write_page(tmp_path, tea_report())
    text = path.read_text(encoding="utf-8")
    policy = text.split('Content-Security-Policy" content="')[1].split('"')[0]
    assert "unsafe" not in policy and "base-uri 'none'" in policy and "form-action 'none'" in policy
    path.write_text(text.replace("<main", "<script>document.title='pwned'</script><main"))
    shown = opened(path)
    assert shown.page.title() != "pwned"
    assert any("Content Security Policy" in c for c in shown.complaints)


def test_it_reads_without_scripts(opened, tmp_path: Path) -> None:
    shown = opened(write_page(tmp_path, tea_report()), script=False)
    assert shown.page.locator(".finding").first.is_visible()
    assert shown.page.locator(".strip").first.is_visible()
    for hidden in (".listen", ".dock", ".desk", ".mini"):
        assert not shown.page.locator(hidden).first.is_visible()


def test_a_phone_never_scrolls_sideways(opened, tmp_path: Path) -> None:
    shown = opened(write_page(tmp_path, tea_report()), width=360)
    assert shown.page.evaluate("document.documentElement.scrollWidth") <= 360
    shown.page.locator(".as-table > summary").click()
    heights = (
        "[...document.querySelectorAll('.as-table thead th')].map((head) => head.offsetHeight)"
    )
    assert max(shown.page.evaluate(heights)) < 40  # one line: no word is broken
    assert shown.page.evaluate("document.documentElement.scrollWidth") <= 360


def test_the_table_of_several_songs_breaks_no_head_on_a_phone(opened, tmp_path: Path) -> None:
    long = "a folder/with a song of a rather long name.mid"
    page = opened(write_page(tmp_path, tea_report(), tea_report(long)), width=360).page
    heights = "[...document.querySelectorAll('nav thead th')].map((head) => head.offsetHeight)"
    assert len(page.evaluate(heights)) == 4 and max(page.evaluate(heights)) < 40
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_a_hostile_name_is_inert(opened, tmp_path: Path) -> None:
    midi = mido.MidiFile(file=io.BytesIO(TEA))
    for track in midi.tracks:
        for i, message in enumerate(track):
            if message.type == "track_name":
                track[i] = message.copy(name=HOSTILE)
    midi.tracks[0].insert(0, mido.MetaMessage("marker", text=HOSTILE))
    file = io.BytesIO()
    midi.save(file=file)
    report = reported(file.getvalue(), f"{HOSTILE[:60]}.mid")
    shown = opened(write_page(tmp_path, report))
    shown.page.locator(".as-table summary").click()
    shown.page.locator(".roll").focus()
    shown.page.keyboard.press("ArrowRight")
    assert shown.complaints == []
    assert "pwned" not in shown.page.title().replace("document.title='pwned'", "")
    assert shown.page.locator("img").count() == 0
    assert shown.page.locator("script:not([type])").count() == 1
    assert "\x1b" not in shown.page.content()


def test_sixteen_bars_are_small() -> None:
    """16 bars with 4 findings: under 100 kB, scripts, sounds and moved notes among them. Sounds of
    files, which this song has none of, come on top."""
    sections = [section(tea_report(), BOOK, Sheet(nudged="written"))]
    text = "".join(assemble(sections, Run(tuple(BOOK))))
    assert 'class="nudging"' in text and len(text.encode("utf-8")) < 100_000


def test_lessons_lead_to_their_examples(tmp_path: Path) -> None:
    """To the rule book where it stands beside, else to the command that writes a lesson."""
    song, book = tmp_path / "tea.mid", tmp_path / "BOOK.html"
    song.write_bytes(TEA)
    command = ["check", str(song), "--no-cache", "--only", "off-root", "--format", "html"]
    main([*command, "--output", str(tmp_path / "page.html")])
    lone = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "basslint explain off-root --format html --output LESSON.html" in lone
    assert "BOOK.html" not in lone and "tempo 140" not in lone  # no beats in notation either
    book.write_text("")  # whatever is in it
    main([*command, "--output", f"{tmp_path}/"])
    main([*command, "--output", str(tmp_path / "page.html")])
    pages = [p for p in tmp_path.glob("*.html") if p.name not in ("BOOK.html", "index.html")]
    assert len(pages) == 2
    assert all('href="BOOK.html#rule-off-root"' in p.read_text(encoding="utf-8") for p in pages)


def test_where_no_bass_plays_nothing_is_said_or_asked_of_it() -> None:
    """How long it rings, and training whose three buttons were all grey."""
    drums = page_text(beat_report("tempo 140\nkick | C2:2 C2:2 |*8\nsnare | .:1 D2:3 |*8"))
    bass = page_text(beat_report("tempo 140\nkeys | A3+C4+E4:4 |*8\nsub | A1:4 |*8"))
    for words in ("How long the bass sound rings", "Train your ear"):
        assert words in bass and words not in drums


def test_readings_are_words(tmp_path: Path) -> None:
    text = page_text(tea_report())
    assert "3.75 beats" in text and "99 %" in text
    assert "0.999379" not in text and ">False<" not in text and "root_certainty" not in text


def test_what_was_weighed_stands_on_the_card(tea: Opened) -> None:
    """Heaviest first, a bar each, as long as its weight, and the weight in words."""
    finding = next(f for f in tea_report().findings if f.rule == "off-root")
    box = tea.page.locator(".finding").nth(1).locator(".weighed")
    box.locator("summary").click()
    assert "99 % likely a slip" in box.locator("summary").text_content()
    rows = box.locator("tr")
    assert rows.count() == len(finding.evidence) > 5
    first, last = finding.evidence[0], finding.evidence[-1]
    told = rows.first.locator("th, td").all_text_contents()  # laid out in the window or not
    assert [t.strip() for t in told] == [f"{first.how_much} for", "", first.words]
    bars = box.locator("rect")
    wide = [float(bars.nth(n).get_attribute("width")) for n in range(bars.count())]
    assert wide == sorted(wide, reverse=True)
    assert wide[0] / wide[-1] > 0.5 * min(abs(first.weight), 4) / abs(last.weight)
