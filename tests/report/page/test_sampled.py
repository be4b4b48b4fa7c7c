"""Sounds of files on the page: the same samples as the auditions, and what is too large is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from page_rendered import bars_of, level_db
from page_songs import data_of, page_text, reported, write_page

from basslint.audition.embedded import carried
from basslint.audition.mix import _mixed
from basslint.audition.sounds import RATE, Wish
from basslint.hear.facts import StatedLoop
from basslint.judging.results import FileReport
from basslint.rulebook.notation import compile_beat

BEAT = (
    "tempo 120\nkeys | A3+C4+E4:4 |*4\nsub wheel 12\nsub | A1:1~.25 E2:2 .:1 | A1:3.5 .:.5 |*2\n"
    "sub bend | 1:0 | 1:0 2:0 3:+7 4:+7 4.9:0 | 1:0 | 1:0 |\nkick | C2:2 C2:2 |*4"
)
SILENT = {"bass": False, "harmony": False, "drums": False, "loops": False, "roots": False}
HEARD = dict.fromkeys(SILENT, True) | {"roots": False, "up": 0, "small": False, "plain": False}


def one_shot(folder: Path, hz: float = 46.25) -> str:
    """F#1 with an overtone, that falls by 60 dB in 2 s."""
    time = np.arange(3 * RATE) / RATE
    wave = np.sin(2 * np.pi * hz * time) + 0.4 * np.sin(4 * np.pi * hz * time)
    soundfile.write(folder / "sub.wav", 0.6 * wave * 10 ** (-3 * time / 2), RATE)
    return str(folder / "sub.wav")


def loop(folder: Path, rate: int = 32_000, hiss: float = 0.0) -> str:
    """Two bars at 120 bpm of A minor and F, with 50 ms of silence before them."""
    time = np.arange(2 * rate) / rate
    chords = [sum(np.sin(2 * np.pi * f * time) for f in tones) * np.exp(-time)
              for tones in ((220.0, 261.63, 329.63), (174.61, 220.0, 261.63))]  # fmt: skip
    whole = np.concatenate([np.zeros(rate // 20), *chords])
    whole += hiss * np.random.default_rng(2).standard_normal(len(whole))
    soundfile.write(folder / "attic.wav", 0.2 * whole, rate)
    return str(folder / "attic.wav")


def report(folder: Path, **given: object) -> FileReport:
    loops = (StatedLoop(file=loop(folder, **given), bars=2, begins_s=0.05, semitones=-1.0),)
    facts = {"decay_s": None, "sound": one_shot(folder), "root_key": 30.0, "bend_range": 12.0}
    return reported(compile_beat(BEAT).data, "beat.mid", loops=loops, **facts)


@pytest.fixture(scope="module")
def beat(tmp_path_factory: pytest.TempPathFactory) -> FileReport:
    return report(tmp_path_factory.mktemp("sounds"))


@pytest.mark.parametrize("alone", ["bass", "loops", "roots", ""])
def test_the_page_sounds_what_the_audition_sounds(modules, beat: FileReport, alone: str) -> None:
    """The one-shot through slides and bends, the loop a semitone down, the roots, and all of it."""
    data = modules.load(beat)
    wish = (SILENT | {alone: True} if alone else HEARD) | {"decay": data["decay"]}
    page = bars_of(modules, 2, 4, wish)
    own = {
        "bass": lambda: _mixed(beat.chart, Wish((2, 4), solo=True)),
        "roots": lambda: _mixed(beat.chart, Wish((2, 4), solo=True, roots=True)),
        "loops": lambda: (
            _mixed(beat.chart, Wish((2, 4))) - _mixed(_without_loops(beat), Wish((2, 4)))
        ),
        "": lambda: _mixed(beat.chart, Wish((2, 4))),
    }[alone]()
    assert level_db(own) > -40
    assert level_db(page - own) < level_db(own) - 60


def _without_loops(beat: FileReport):
    from basslint.hear.chart import Chart

    return Chart(beat.chart.song, beat.chart.facts, "").with_parts_of(beat.chart)


def test_a_long_loop_is_coded_with_loss_and_stays_in_its_place(modules, tmp_path: Path) -> None:
    noisy = report(tmp_path, rate=44_100, hiss=0.5)
    (_, (coded, _)) = carried(noisy.chart).sounds
    assert coded[:4] == b"OggS" and len(coded) < 100_000
    modules.load(noisy)
    page = bars_of(modules, 1, 4, HEARD | SILENT | {"loops": True, "decay": 1})
    own = _mixed(noisy.chart, Wish()) - _mixed(_without_loops(noisy), Wish())
    assert abs(int(_shift(page[:RATE], own[:RATE]))) <= 2  # samples: less than .05 ms
    assert level_db(page - own) < level_db(own) - 6


def _shift(one: np.ndarray, other: np.ndarray) -> int:
    size = 2 * len(one)
    product = np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size))
    place = int(np.fft.irfft(product).argmax())
    return place if place < size // 2 else place - size


def test_what_is_too_large_is_told_and_left_out(beat: FileReport) -> None:
    text = page_text(beat)
    assert text.count('class="sampled"') == 2 and "attic.wav plays along" in text
    first, second = (len(data) for data, _ in carried(beat.chart).sounds)
    left = carried(beat.chart, most=first + second - 1)
    assert left.one_shot is not None and not left.loops and len(left.sounds) == 1
    assert left.left_out[0].startswith("attic.wav is not heard here: it takes 0.1 MB, and")
    assert carried(beat.chart, most=first - 1).one_shot is None


def test_it_is_read_when_it_is_played_and_has_mutes(opened, beat: FileReport, tmp_path) -> None:
    page = opened(write_page(tmp_path, beat), waits=True)
    dock = page.page.locator(".dock")
    dock.locator("summary").click()
    for name in ("loops", "roots", "plain"):
        assert dock.locator(f"[name={name}]").is_visible()
    page.page.locator(".whole [data-play]").click()
    page.until("document.body.dataset.playing === 'written'")
    dock.locator("[name=loops]").uncheck()
    dock.locator("[name=roots]").check()
    page.until("document.body.dataset.playing === 'written' && loudest > 0.1")
    assert page.complaints == []


def test_a_song_without_them_shows_no_knob_for_them(opened, tmp_path: Path) -> None:
    page = opened(write_page(tmp_path, reported(compile_beat(BEAT).data)))
    page.page.locator(".dock summary").click()
    assert page.page.locator("[name=roots]").is_visible()
    assert not page.page.locator("[name=loops]").is_visible()
    assert not page.page.locator("[name=plain]").is_visible()
    assert data_of(reported(compile_beat(BEAT).data))["sampled"]["oneShot"] is None
