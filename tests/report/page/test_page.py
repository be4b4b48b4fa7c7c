"""The report page in a real browser: it loads cleanly, is steered by keys and pointer, plays."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import mido
import pytest
from page_songs import SAMPLES, beat_report, page_text, reported, write_page

import basslint
from basslint.checking.one_file import check_bytes
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.mending.offer import first_round
from basslint.mending.patch import patch
from basslint.report.formats.page_parts import page_file
from basslint.rulebook.loader import read_book

TEA = SAMPLES / "spilled-tea.mid"
HOSTILE = (
    "<script>document.title='pwned'</script>\"'><img src=x onerror=alert(1)>\x1b[31m" + "A" * 9_900
)

# Counts the nodes of audio graphs that are in use, and keeps what is played.
SPY = """
window.contexts = [];
window.nodes = 0;
window.loudest = 0;
const Real = window.AudioContext;
window.AudioContext = class extends Real {
  constructor(options) { super(options); window.contexts.push(this); }
};
for (const kind of ["createGain", "createBufferSource"]) {
  const make = BaseAudioContext.prototype[kind];
  BaseAudioContext.prototype[kind] = function () { window.nodes++; return make.call(this); };
}
const drop = AudioNode.prototype.disconnect;
AudioNode.prototype.disconnect = function () { window.nodes--; return drop.call(this); };
const copy = AudioBuffer.prototype.copyToChannel;
AudioBuffer.prototype.copyToChannel = function (samples, channel) {
  for (const x of samples) window.loudest = Math.max(window.loudest, Math.abs(x));
  return copy.call(this, samples, channel);
};
"""


class Opened:
    """A page that was opened, with every complaint of the browser."""

    def __init__(
        self, browser, path: Path, script: bool = True, width: int = 1280, waits: bool = False,
        address: str = "", **context: object,
    ) -> None:  # fmt: skip
        # waiting for a condition evaluates text in the page, which its own policy forbids
        self.context = browser.new_context(
            java_script_enabled=script,
            viewport={"width": width, "height": 900},
            bypass_csp=waits,
            accept_downloads=True,
            **context,
        )
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("dialog", lambda d: (self.complaints.append("a dialog"), d.dismiss()))
        self.page.on(
            "console",
            lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None,
        )
        self.page.on(
            "request",
            lambda r: (
                None if r.url.startswith(("file:", "blob:")) else self.complaints.append(r.url)
            ),
        )
        self.page.add_init_script(SPY)
        self.page.goto(path.as_uri() + address)

    def value(self, script: str) -> object:
        return self.page.evaluate(script)

    def until(self, condition: str) -> None:
        self.page.wait_for_function(condition, timeout=20_000)


@pytest.fixture()
def tea(browser, tmp_path: Path) -> Iterator[Opened]:
    opened = Opened(browser, write_page(tmp_path, tea_report()), waits=True)
    yield opened
    opened.context.close()


def tea_report(name: str = "spilled-tea.mid"):
    return reported(TEA.read_bytes(), name)


def test_it_loads_without_a_complaint_and_asks_nobody(browser, tmp_path: Path) -> None:
    opened = Opened(browser, write_page(tmp_path, tea_report()))  # under its own policy
    assert opened.page.title() == "Bass line report: spilled-tea.mid"
    assert opened.page.locator(".finding").count() == 4
    assert opened.page.locator(".todo").inner_text() == ("4 things: 1 is mended safely, 3 by ear.")
    opened.page.locator(".field path.bass").wait_for(state="attached")
    assert opened.complaints == []
    opened.context.close()


def test_the_policy_lets_nothing_but_its_own_script_and_style(browser, tmp_path: Path) -> None:
    path = write_page(tmp_path, tea_report())
    text = path.read_text(encoding="utf-8")
    policy = text.split('Content-Security-Policy" content="')[1].split('"')[0]
    assert "unsafe" not in policy and "base-uri 'none'" in policy and "form-action 'none'" in policy
    path.write_text(text.replace("<main", "<script>document.title='pwned'</script><main"))
    opened = Opened(browser, path)
    assert opened.page.title() != "pwned"
    assert any("Content Security Policy" in c for c in opened.complaints)
    opened.context.close()


def test_keys_step_through_findings_and_give_the_focus_back(tea: Opened) -> None:
    tea.page.locator("[data-zoom='0']").focus()
    focused = "document.activeElement.querySelector('.message')?.textContent || ''"
    heard = []
    for key in "jjjjk":
        tea.page.keyboard.press(key)
        heard.append(str(tea.value(focused))[:9])
    assert heard[0].startswith("Slides") and heard[1].startswith("F#1 holds")
    assert heard[2] == heard[4] and len(set(heard[:4])) == 4
    tea.page.keyboard.press("Escape")
    assert tea.value("document.activeElement.dataset.zoom") == "0"


def test_single_keys_can_be_switched_off(tea: Opened) -> None:
    tea.page.locator(".dock summary").click()
    tea.page.locator("[name=single]").uncheck()
    tea.page.locator(".roll").focus()
    tea.page.keyboard.press("j")
    assert tea.page.locator(".finding.chosen").count() == 0


def test_the_roll_is_walked_note_by_note(tea: Opened) -> None:
    tea.page.locator(".roll").focus()
    told = tea.page.locator(".readout")
    lines = []
    for key in ("ArrowRight", "ArrowRight", "ArrowRight", "ArrowDown"):
        tea.page.keyboard.press(key)
        lines.append(told.inner_text())
    assert lines[0].startswith("A1 · Sub · bar 1, beat 1 · 2.5 beats")
    assert "chord Am" in lines[0]
    assert lines[2].startswith("F1 · Sub · bar 2, beat 1")
    assert "Sub" not in lines[3]
    assert told.get_attribute("aria-live") == "polite"


def test_enter_on_a_note_at_fault_goes_to_its_finding(tea: Opened) -> None:
    tea.page.locator(".roll").focus()
    for _ in range(60):
        tea.page.keyboard.press("ArrowRight")
        if "off-root" in tea.page.locator(".readout").inner_text():
            break
    tea.page.keyboard.press("Enter")
    assert "F#1 holds" in str(tea.value("document.activeElement.textContent"))
    tea.page.keyboard.press("Escape")
    assert tea.value("document.activeElement.className") == "roll"


def test_the_note_under_the_pointer_is_told(tea: Opened) -> None:
    tea.page.locator(".field path.wrong").wait_for(state="attached")
    box = tea.page.locator(".field path.wrong").bounding_box()
    tea.page.mouse.move(box["x"] + 6, box["y"] + box["height"] - 2)
    field = tea.page.locator(".field").bounding_box()
    for dy in range(0, int(box["height"]) + 1, 3):
        tea.page.mouse.move(box["x"] + 10, box["y"] + dy)
        if "error" in tea.page.locator(".readout").inner_text():
            break
    assert "error: slide-off-scale" in tea.page.locator(".readout").inner_text()
    tea.page.mouse.move(field["x"] + 5, field["y"] + 60)
    assert "error" not in tea.page.locator(".readout").inner_text()


def window_of(tea: Opened) -> tuple[float, float]:
    tea.page.wait_for_timeout(60)
    roll = tea.page.locator(".roll")
    return float(roll.get_attribute("data-from")), float(roll.get_attribute("data-to"))


def test_keys_zoom_and_the_overview_moves_the_window(tea: Opened) -> None:
    start, end = window_of(tea)
    tea.page.locator(".roll").focus()
    for _ in range(6):
        tea.page.keyboard.press("+")
    close, far = window_of(tea)
    assert far - close < 0.2 * (end - start)
    box = tea.page.locator(".overview").bounding_box()
    tea.page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 10)
    tea.page.mouse.down()
    tea.page.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + 10, steps=4)
    tea.page.mouse.up()
    moved, until = window_of(tea)
    assert moved + until == pytest.approx(2 * 0.8 * 16 * 4 * 480, rel=0.02)
    tea.page.locator(".overview").focus()
    tea.page.keyboard.press("ArrowLeft")
    assert window_of(tea)[0] == pytest.approx(moved - 4 * 480, abs=2)
    bar = int(tea.page.locator(".overview").get_attribute("aria-valuenow"))
    assert bar == int(window_of(tea)[0] // (4 * 480)) + 1
    tea.page.locator(".roll").focus()
    tea.page.keyboard.press("0")
    assert window_of(tea) == (0, 16 * 4 * 480)


def test_filters_and_order(tea: Opened) -> None:
    cards = tea.page.locator(".finding:visible")
    tea.page.locator("[name=level][value=error]").uncheck()
    assert cards.count() == 1 and "warning" in cards.first.inner_text()
    assert tea.page.locator(".filters .count").inner_text() == "1 of 4 shown"
    assert tea.page.locator(".overview path.error").count() == 0
    tea.page.locator("[name=level][value=error]").check()
    tea.page.locator("[name=rule]").select_option("off-root")
    assert cards.count() == 1 and "F#1" in cards.first.inner_text()
    tea.page.locator("[name=rule]").select_option("")
    tea.page.locator("[name=order]").select_option("worst")
    levels = [c.split()[1] for c in tea.page.locator(".finding h3").all_inner_texts()]
    assert levels == ["error", "error", "error", "warning"]


def test_only_what_can_be_mended(browser, tmp_path: Path) -> None:
    report = tea_report()
    opened = Opened(browser, write_page(tmp_path, report))
    mended = sum(f.fix is not None for f in report.findings)
    opened.page.locator("[name=mendable]").check()
    assert opened.page.locator(".finding:visible").count() == mended
    opened.context.close()


def test_a_link_to_a_finding_opens_there(browser, tmp_path: Path) -> None:
    path = write_page(tmp_path, tea_report())
    opened = Opened(browser, path, width=360)
    ident = opened.page.locator(".finding").nth(2).get_attribute("id")
    opened.context.close()
    again = Opened(browser, write_page(tmp_path, tea_report()), width=360, address=f"#{ident}")
    card = again.page.locator(".finding").nth(2)
    again.page.wait_for_timeout(700)
    assert card.get_attribute("id") == ident, "the same from run to run"
    top = card.locator("h3").bounding_box()["y"]
    dock = again.page.locator(".dock").bounding_box()["y"]
    assert 0 <= top < dock, "its heading is in sight"
    again.context.close()


def test_the_roll_is_a_table_too(tea: Opened) -> None:
    tea.page.locator(".as-table summary").click()
    rows = tea.page.locator(".as-table tbody tr")
    assert rows.count() == 16
    assert "F#1 on 1" in rows.nth(5).inner_text() and "error off-root" in rows.nth(5).inner_text()


def test_written_and_mended_are_switched_without_a_gap(tea: Opened) -> None:
    """One context plays on; the switch turns gains, the place goes on, Escape ends it."""
    level = tea.page.locator("[name=level][type=range]")
    assert int(level.input_value()) == -12, "the level starts low"
    assert "harms ears and speakers" in tea.page.locator("#caution").inner_text()
    card = tea.page.locator(".finding").nth(1)
    card.locator("[data-side=mended]").click()
    tea.until("document.body.dataset.playing === 'mended' && contexts[0].state === 'running'")
    assert "bars 5–7, as mended" in tea.page.locator(".status").inner_text()
    tea.until("Number(document.querySelector('[name=seek]').value) > 20")
    before = int(tea.page.locator("[name=seek]").input_value())
    card.locator("[data-side=written]").click()
    assert tea.value("document.body.dataset.playing") == "written"
    assert int(tea.page.locator("[name=seek]").input_value()) >= before
    assert tea.value("contexts.length") == 1
    assert card.locator(".mini .cursor").is_visible()
    tea.page.keyboard.press("Escape")
    assert tea.value("document.body.dataset.playing") == ""
    assert tea.page.locator("[data-stop]").is_disabled()
    assert tea.complaints == []


def test_pause_seek_and_loop(tea: Opened) -> None:
    play = tea.page.locator(".finding").nth(1).locator("[data-play]")
    tea.page.locator("[name=loop]").check()
    play.click()
    tea.until("Number(document.querySelector('[name=seek]').value) > 5")
    play.click()
    assert "Paused" in tea.page.locator(".status").inner_text()
    tea.page.wait_for_timeout(150)  # the frame that was under way still draws
    stands = int(tea.page.locator("[name=seek]").input_value())
    tea.page.wait_for_timeout(300)
    assert int(tea.page.locator("[name=seek]").input_value()) == stands
    play.click()
    tea.page.locator("[name=seek]").fill("980")
    tea.until("Number(document.querySelector('[name=seek]').value) > 975")
    tea.until("Number(document.querySelector('[name=seek]').value) < 500")
    assert tea.value("document.body.dataset.playing") == "written", "it begins again"


def test_fifty_plays_leave_no_node_and_no_sample_is_too_loud(tea: Opened) -> None:
    tea.page.locator("[name=level][type=range]").fill("-1")
    tea.page.locator(".dock summary").click()
    tea.page.locator("[name=small]").check()
    tea.value(
        """async () => {
          const wait = (ms) => new Promise((done) => setTimeout(done, ms));
          const cards = [...document.querySelectorAll(".finding")];
          for (let i = 0; i < 50; i++) {
            cards[i % 4].querySelector(`[data-side=${i % 2 ? "mended" : "written"}]`).click();
            await wait(10);
          }
        }"""
    )
    tea.page.locator("[data-stop]").click()
    tea.until("nodes === 1")  # the level of the page
    assert 0.3 < float(tea.value("loudest")) <= 10 ** (-1 / 20)
    assert tea.value("contexts.length") == 1
    assert tea.complaints == []


def test_leaving_and_coming_back_starts_low_again(tea: Opened) -> None:
    tea.page.locator("[name=level][type=range]").fill("-1")
    tea.page.goto("about:blank")
    tea.page.go_back()
    assert tea.page.locator("[name=level][type=range]").input_value() == "-12"


def test_the_whole_song_plays_as_written_and_mended(tea: Opened) -> None:
    tea.page.locator(".whole [data-side=mended]").click()
    tea.until("document.body.dataset.playing === 'mended'")
    assert "bars 1–16, as mended" in tea.page.locator(".status").inner_text()
    tea.until("!document.querySelector('.field .cursor').hidden")


def test_a_clean_song_is_said_to_be_and_plays(browser, tmp_path: Path) -> None:
    clean = reported((SAMPLES / "night-bus.mid").read_bytes(), "night-bus.mid")
    assert not clean.findings
    opened = Opened(browser, write_page(tmp_path, clean), waits=True)
    assert opened.page.locator(".todo").inner_text() == "Nothing is off."
    assert opened.page.locator(".field text.chord").count() > 2
    opened.page.locator(".whole [data-play]").click()
    opened.until("document.body.dataset.playing === 'written'")
    opened.context.close()


def test_it_reads_without_scripts(browser, tmp_path: Path) -> None:
    opened = Opened(browser, write_page(tmp_path, tea_report()), script=False)
    assert opened.page.locator(".finding").first.is_visible()
    assert opened.page.locator(".strip").first.is_visible()
    for hidden in (".listen", ".dock", ".desk", ".mini"):
        assert not opened.page.locator(hidden).first.is_visible()
    opened.context.close()


def test_a_phone_never_scrolls_sideways(browser, tmp_path: Path) -> None:
    opened = Opened(browser, write_page(tmp_path, tea_report()), width=360)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 360
    opened.context.close()


def test_a_hostile_name_is_inert(browser, tmp_path: Path) -> None:
    midi = mido.MidiFile(file=io.BytesIO(TEA.read_bytes()))
    for track in midi.tracks:
        for i, message in enumerate(track):
            if message.type == "track_name":
                track[i] = message.copy(name=HOSTILE)
    midi.tracks[0].insert(0, mido.MetaMessage("marker", text=HOSTILE))
    file = io.BytesIO()
    midi.save(file=file)
    report = reported(file.getvalue(), f"{HOSTILE[:60]}.mid")
    opened = Opened(browser, write_page(tmp_path, report))
    opened.page.locator(".as-table summary").click()
    opened.page.locator(".roll").focus()
    opened.page.keyboard.press("ArrowRight")
    assert opened.complaints == []
    assert "pwned" not in opened.page.title().replace("document.title='pwned'", "")
    assert opened.page.locator("img").count() == 0
    assert opened.page.locator("script:not([type])").count() == 1
    assert "\x1b" not in opened.page.content()
    opened.context.close()


def test_sixteen_bars_are_small() -> None:
    """16 bars with 4 findings: under 100 kB without what sounds (the song's data, and the modules
    that render and play); under 125 kB with all."""
    text = page_text(tea_report())
    data = text.split('class="data">')[1].split("</script>")[0]
    sounding = sum(len(page_file(f"{n}.js")) for n in ("sounds", "voices", "loudness", "player"))
    whole = len(text.encode("utf-8"))
    assert whole - len(data) - sounding < 100_000 and whole < 125_000


def test_readings_are_words(tmp_path: Path) -> None:
    text = page_text(tea_report())
    assert "3.75 beats" in text and "99 %" in text
    assert "0.999379" not in text and ">False<" not in text and "root_certainty" not in text


def test_the_assumed_decay_is_said(browser, tmp_path: Path) -> None:
    opened = Opened(browser, write_page(tmp_path, reported(TEA.read_bytes(), decay_s=None)))
    assert "1.5 s is assumed" in opened.page.locator(".desk").inner_text()
    opened.context.close()
    assert "is assumed" not in page_text(
        beat_report("decay 2s\nkeys | A3+C4:4 |*4\nsub | A1:4 |*4")
    )


def test_the_mended_file_is_taken_away(browser, tmp_path: Path) -> None:
    """What the page hands over is what the patcher wrote: the safe fixes, and all of them."""
    report = tea_report("folder/spilled tea.mid")
    opened = Opened(browser, write_page(tmp_path, report))  # under its own policy
    opened.page.locator(".field path.bass").wait_for(state="attached")
    for choice, by_ear in (("safe", False), ("ear", True)):
        opened.page.locator("[name=set]").select_option(choice)
        with opened.page.expect_download() as download:
            opened.page.locator("[data-download]").click()
        got = download.value
        assert got.suggested_filename == "spilled tea.mended.mid"
        assert Path(got.path()).read_bytes() == first_round(report, Choice(by_ear))[1]
    assert opened.complaints == []
    opened.context.close()


def test_the_safe_file_is_what_mend_writes(tmp_path: Path) -> None:
    """Where one round is enough, the page's file and the command's are the same bytes."""
    report = tea_report()
    settings = basslint.Settings().with_facts(decay_s=1.5)
    rules = settings.choose(read_book())
    recheck = lambda data: check_bytes(data, "x.mid", settings, rules)  # noqa: E731
    for by_ear in (False, True):
        written = mend(TEA.read_bytes(), recheck, Choice(by_ear))
        assert first_round(report, Choice(by_ear))[1] == written.data


def test_commands_can_be_copied(tea: Opened) -> None:
    card = tea.page.locator(".finding").nth(1)
    card.locator("details summary").click()
    commands = card.locator(".command code").all_inner_texts()
    assert commands[0] == "basslint mend spilled-tea.mid --only off-root"
    assert commands[1].startswith("basslint waive spilled-tea.mid off-root --bar 6 --reason ")
    tea.context.grant_permissions(["clipboard-read", "clipboard-write"])
    card.locator("[data-copy]").first.click()
    tea.until(
        "document.querySelector('.finding.error + .finding [data-copy]').textContent === 'copied'"
    )
    assert tea.page.evaluate("navigator.clipboard.readText()") == commands[0]


def test_the_fixes_ticked_are_taken_away(browser, tmp_path: Path) -> None:
    report = tea_report()
    opened = Opened(browser, write_page(tmp_path, report))
    opened.page.locator(".field path.bass").wait_for(state="attached")
    for n in (1, 3):
        opened.page.locator(".finding").nth(n).locator("[name=take]").check()
    assert opened.page.locator("[name=set]").input_value() == "ticked"
    with opened.page.expect_download() as download:
        opened.page.locator("[data-download]").click()
    edits = [e for n in (1, 3) for e in report.findings[n].fix.edits]
    want = patch(TEA.read_bytes(), report.chart.song, edits)
    got = Path(download.value.path()).read_bytes()
    assert played(got) == played(want) != played(TEA.read_bytes())
    assert opened.complaints == []
    opened.context.close()


def played(data: bytes) -> list[list[tuple]]:
    """The events of each track with their ticks, as mido reads them."""
    midi = mido.MidiFile(file=io.BytesIO(data))
    tracks = []
    for track in midi.tracks:
        tick, told = 0, []
        for message in track:
            tick += message.time
            told.append((tick, *message.copy(time=0).bytes()))
        tracks.append(told)
    return tracks
