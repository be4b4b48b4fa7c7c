"""What is dropped, stated and taken away through the page, in a real browser."""

from __future__ import annotations

import base64
from pathlib import Path

import pytest
from loop_sounds import chords, write
from watch_runs import SAMPLES, Shown, Watching, moved, until

from basslint.cli.main import main
from basslint.errors import UsageError
from basslint.settings.discovery import settings_for
from basslint.settings.run_options import RunOptions
from basslint.watch.statement import NOTHING

TEA = (SAMPLES / "spilled-tea.mid").read_bytes()
DROPPED = "(dropped)/tea drop.mid"


@pytest.fixture
def dropped(shown: Shown, watching: Watching) -> Shown:
    """The page onto which a song was dropped, by a pointer."""
    before = sorted(watching.folder.iterdir())
    version = shown.version(DROPPED)
    shown.page.evaluate(
        """([data, name]) => {
            const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
            const transfer = new DataTransfer();
            transfer.items.add(new File([bytes], name));
            const how = { dataTransfer: transfer, bubbles: true, cancelable: true };
            document.body.dispatchEvent(new DragEvent("drop", how));
        }""",
        [base64.b64encode(TEA).decode(), "tea drop.mid"],
    )
    shown.later(version, DROPPED)
    assert sorted(watching.folder.iterdir()) == before
    yield shown
    shown.song(DROPPED).locator("[data-away]").click()
    until(lambda: not shown.song(DROPPED).count(), "it is off the page")


def state(page: Shown, **words: str) -> str:
    """Fill in the form, and wait until the song was checked by all of it; the lines that say so."""
    song = page.song(DROPPED)
    if song.locator(".stating").get_attribute("open") is None:
        song.locator(".stating summary").click()
    for name, value in words.items():
        song.locator(f".stating [name={name}]").fill(value)
    song.locator(".stating [type=submit]").click()
    lines = song.locator(".lines")
    until(lambda: all(value in lines.inner_text() for value in words.values()), "what was stated")
    return lines.inner_text()


def test_what_is_stated_holds_at_once_and_its_lines_say_the_same(
    dropped: Shown, tmp_path: Path
) -> None:
    assert "A minor" in dropped.song(DROPPED).locator("p.line").inner_text()
    state(dropped, key="E phrygian", chords="Am F C G", decay="2s", bass="Sub")
    song = dropped.song(DROPPED)
    assert "E phrygian" in song.locator("p.line").inner_text()
    assert "roots as stated, 16 of 16 bars" in song.locator("p.line").inner_text()
    assert "Since what you stated" in song.locator(".since").inner_text()
    (tmp_path / "basslint.toml").write_text(song.locator(".lines").inner_text())
    facts = settings_for(tmp_path / "tea drop.mid").facts
    assert (facts.key.tonic, facts.key.mode, facts.decay_s) == (4, "phrygian", 2.0)
    assert facts.bass == ("Sub",) and str(facts.chords[0]) == "Am F C G"
    with dropped.page.expect_download() as download:
        song.locator("[data-save]").click()
    assert Path(download.value.path()).read_bytes() == (tmp_path / "basslint.toml").read_bytes()


def test_what_cannot_be_read_is_told_beside_the_form(dropped: Shown) -> None:
    song = dropped.song(DROPPED)
    song.locator(".stating summary").click()
    song.locator(".stating [name=chords]").fill("Am Hx C")
    song.locator(".stating [type=submit]").click()
    until(lambda: "Hx" in song.locator("p.wrong").inner_text(), "the word that is no chord")
    song.locator(".stating [name=chords]").fill("")
    song.locator(".stating [name=bars]").fill("4")
    song.locator(".stating [type=submit]").click()
    until(lambda: "There is no loop" in song.locator("p.wrong").inner_text(), "what is missing")
    song.locator(".stating [name=bars]").fill("")


def test_a_loop_is_heard_with_a_song(dropped: Shown, tmp_path: Path) -> None:
    wave = write(tmp_path / "attic <b>.wav", chords(140.0))
    dropped.page.locator("[name=files]").set_input_files(str(wave))
    row = dropped.page.locator(".sounds li")
    row.locator("select").nth(1).select_option(label=DROPPED)
    version = dropped.version(DROPPED)
    row.get_by_role("button").click()
    dropped.later(version, DROPPED)
    song = dropped.song(DROPPED)
    assert "attic -b-.wav" in song.inner_text() and "sound-" not in song.inner_text()
    said = dropped.page.locator(".dropped").inner_text()
    assert said == f"attic <b>.wav is now the loop of {DROPPED}."
    until(lambda: 0 <= song.locator("h2").bounding_box()["y"] < 120, "the song at the head")
    lines = state(dropped, bars="4", begins="1ms")
    assert 'file = "attic -b-.wav"' in lines and "bars = 4" in lines and 'begins = "1ms"' in lines


def test_roots_and_auditions_are_those_of_the_commands(
    dropped: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("tea drop.mid").write_bytes(TEA)
    assert main(["chart", "tea drop.mid", "--decay", "1500ms", "--guide", "roots.mid"]) == 0
    assert main(["audition", "tea drop.mid", "--decay", "1500ms", "--output", "tea.wav"]) == 0
    song = dropped.song(DROPPED)
    for button, ours, name in (
        (song.locator("[data-make=guide]"), "roots.mid", "tea drop.roots.mid"),
        (song.locator("[data-make=audition]").first, "tea.wav", "tea drop.wav"),
    ):
        with dropped.page.expect_download() as download:
            button.click()
        assert download.value.suggested_filename == name
        assert Path(download.value.path()).read_bytes() == Path(ours).read_bytes()


def test_the_mended_copy_is_written_beside_a_file_of_the_folder(
    watching: Watching, shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    watching.save(TEA, "beside.mid")
    until(lambda: shown.version("beside.mid") > 0, "the song")
    song = shown.song("beside.mid")
    song.locator("[data-write]").click()
    until(lambda: "Wrote beside.mended.mid: 1 mended" in song.locator(".handed").inner_text(), "it")
    Path("beside.mid").write_bytes(TEA)
    assert main(["mend", "beside.mid", "--decay", "1500ms"]) == 0
    copy = watching.folder / "beside.mended.mid"
    assert copy.read_bytes() == Path("beside.mended.mid").read_bytes()
    assert (watching.folder / "beside.mid").read_bytes() == TEA
    copy.unlink()
    song.locator("[data-write]").click()
    until(copy.exists, "it again")


def test_the_place_to_drop_onto_leaves_the_roll_in_sight(shown: Shown) -> None:
    """It took 140 of the 900 pixels of a laptop, and the bass lay below the edge."""
    assert shown.page.locator(".drop").bounding_box()["height"] <= 90


def test_of_what_cannot_be_read_nothing_is_offered(shown: Shown, tmp_path: Path) -> None:
    (tmp_path / "broken.mid").write_bytes(TEA[: len(TEA) // 2])
    shown.page.locator("[name=files]").set_input_files(str(tmp_path / "broken.mid"))
    song = shown.song("(dropped)/broken.mid")
    until(lambda: song.count() and "ould not be read" in song.inner_text(), "what is wrong")
    assert not song.locator(".stating").count() and not song.locator("[data-make]").count()
    song.locator("[data-away]").click()
    until(lambda: not song.count(), "it is off the page")


def test_what_is_neither_midi_nor_sound_or_too_large_is_refused_in_words(
    shown: Shown, watching: Watching, tmp_path: Path
) -> None:
    said = shown.page.locator(".dropped")
    settings = watching.folder / "basslint.toml"
    settings.write_text("[limits]\nmax_bytes = 2000\n")
    big = tmp_path / "big.mid"
    big.write_bytes(moved(30, 29) + bytes(3000))
    shown.page.locator("[name=files]").set_input_files(str(big))
    until(lambda: "larger than 2,000 bytes (limit `max_bytes`)" in said.inner_text(), "the limit")
    settings.unlink()
    assert shown.song("big.mid").count() == 0
    assert "413" in shown.complaints.pop()
    text = tmp_path / "notes.txt"
    text.write_text("no sound")
    shown.page.locator("[name=files]").set_input_files(str(text))
    until(
        lambda: "“notes.txt” is neither a song nor a sound" in said.inner_text(), "what it is not"
    )
    assert shown.page.locator(".sounds li").count() == 0
    watching.save(TEA, "beside.mid")
    until(lambda: shown.version("beside.mid") > 0, "the song")
    refused = shown.page.evaluate(
        """async (id) => (await fetch(`/song/${id}/sound?as=loop&name=notes.txt`, {
            method: "POST", body: "none", headers: { "Content-Type": "application/octet-stream" },
        })).text()""",
        shown.song("beside.mid").get_attribute("id"),
    )
    assert "“notes.txt” is no sound by its name" in refused
    shown.complaints.clear()  # of the browser, of the status


def test_a_root_key_is_stated_like_that_of_the_command(tmp_path: Path) -> None:
    said = NOTHING.filled({"root_key": " F#1 "})
    song = tmp_path / "tea.mid"
    assert said.options(RunOptions(), song).root_key == "F#1"
    (tmp_path / "basslint.toml").write_text(said.lines("tea.mid"))
    assert (
        settings_for(song).facts.root_key
        == RunOptions(root_key="F#1").settings_of(tmp_path / "other.mid").facts.root_key
    )
    with pytest.raises(UsageError, match="root key"):
        NOTHING.filled({"root_key": "H9"}).options(RunOptions(), song)


@pytest.mark.parametrize("onto", ["the song", "the page"])
def test_a_sound_that_is_dropped_far_down_asks_what_it_is_in_sight(
    dropped: Shown, onto: str
) -> None:
    """Its question stood at the head of the page, which is out of sight below the first song."""
    song = dropped.song(DROPPED)
    song.locator(".finding").last.scroll_into_view_if_needed()
    dropped.page.evaluate(
        """([id, onto]) => {
            const transfer = new DataTransfer();
            transfer.items.add(new File(["no sound yet"], "attic.WAV"));
            const how = { dataTransfer: transfer, bubbles: true, cancelable: true };
            const at = onto === "the page" ? document.body : document.querySelector(`#${id} h2`);
            at.dispatchEvent(new DragEvent("drop", how));
        }""",
        [song.get_attribute("id"), onto],
    )
    row = dropped.page.locator(".sounds li", has_text="attic.WAV")
    box = row.bounding_box()
    assert 0 <= box["y"] < dropped.page.locator(".dock").bounding_box()["y"]
    assert row.locator("select").nth(1).input_value() == song.get_attribute("id")
    assert row.evaluate("r => r.contains(document.activeElement)")
    row.evaluate("r => r.remove()")
