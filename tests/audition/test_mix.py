"""Auditions: the file's own slides and bends, a quiet peak, the bars that were asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from beats import heard

import basslint
from basslint.audition.compare import compare
from basslint.audition.mix import PEAK, RATE, Wish, bass_tones, render, write_wav
from basslint.cli.main import main
from basslint.errors import UsageError
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

GLIDE = "tempo 120\ndecay 4s\nglide 100ms\nkeys | A3+C4+E4:4 |*2\nsub | A1:1~.25 E2:2 .:1 |*2"
WHEEL = (
    "tempo 120\ndecay 4s\nkeys | A3+C4+E4:4 |*2\nsub wheel 12\nsub | A1:3.5 .:.5 |*2\n"
    "sub bend | 1:0 2:0 3:+7 4:+7 4.9:0 | 1:0 |"
)


def test_an_overlap_glides_for_the_stated_time() -> None:
    chart = heard(GLIDE)
    tone = bass_tones(chart, 0, 0, 1920)[0]
    assert (tone.start, tone.end) == pytest.approx((0.0, 1.5))
    pitch = tone.pitch(np.array([0.2, 0.5, 0.55, 0.6, 1.4]))
    assert pitch == pytest.approx([33, 33, 36.5, 40, 40], abs=0.02)


def test_a_bend_is_followed_within_two_cents_at_its_events() -> None:
    """MIDI 1.0: 14-bit wheel, centre 8192; RPN 0 = 12 semitones. 7 semitones = 4779 steps."""
    chart = heard(WHEEL)
    changes = chart.song.changes
    bends = changes.take(changes.kind == 0xE0)
    tone = bass_tones(chart, 0, 0, 1920)[0]
    inside = bends.tick < 3.5 * 480
    at = chart.song.tempo.seconds(bends.tick[inside]) + 1e-5
    wheel = 33 + bends.value[inside] / 8192 * 12
    assert np.abs(tone.pitch(at) - wheel).max() < 0.02
    assert tone.pitch(np.array([1.2])) == pytest.approx(40.0, abs=0.02)


def test_octaves_up_lift_the_bass_and_leave_the_harmony() -> None:
    chart = heard(GLIDE)
    plain, lifted = bass_tones(chart, 0, 0, 1920)[0], bass_tones(chart, 24, 0, 1920)[0]
    assert lifted.pitches - plain.pitches == pytest.approx(24)
    alone = render(chart, Wish(bars=(1, 1), solo=True))
    together = render(chart, Wish(bars=(1, 1)))
    assert alone.shape == together.shape and not np.allclose(alone, together)


def test_it_starts_quiet_and_never_clips() -> None:
    samples = render(heard(WHEEL), Wish())
    assert np.abs(samples).max() == pytest.approx(PEAK, rel=1e-6)
    assert 20 * np.log10(PEAK) == pytest.approx(-12.0)
    assert len(samples) == round(4.5 * RATE)


def test_bars_that_are_not_there_are_refused() -> None:
    with pytest.raises(UsageError, match="bars 2-9"):
        render(heard(GLIDE), Wish(bars=(2, 9)))


def test_the_wav_is_what_was_rendered(tmp_path: Path) -> None:
    import soundfile

    samples = render(heard(GLIDE), Wish(bars=(1, 1)))
    write_wav(tmp_path / "a.wav", samples)
    back, rate = soundfile.read(tmp_path / "a.wav")
    assert rate == RATE
    assert np.abs(back - samples).max() < 2**-22  # 24 bits


def test_a_comparison_holds_the_mended_note() -> None:
    chart = heard(
        "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*2\n"
        "sub | A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 || A1:3.5 | F#1:3.5 | C2:3.5 | G1:3.5 |"
    )
    (finding,) = [f for f in judge(chart, read_book()).findings if f.rule == "off-root"]
    both = compare(chart, finding)
    assert (both.written.first, both.written.last) == (5, 7)
    assert both.mended is not None
    written = [line.knots[0][1] for line in both.written.bass]
    mended = [line.knots[0][1] for line in both.mended.bass]
    assert written == [33, 30, 36]
    assert mended == [33, 29, 36]


def test_the_command_writes_and_warns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    sample = Path(basslint.__file__).parents[1] / "samples" / "spilled-tea.mid"
    (tmp_path / "tea.mid").write_bytes(sample.read_bytes())
    assert main(["audition", "tea.mid", "--bars", "5-6", "--mended", "--octaves-up", "1"]) == 0
    said = capsys.readouterr().out
    assert "harms ears and speakers" in said and "decay" in said
    assert (tmp_path / "tea.audition.wav").stat().st_size > 100_000
    assert main(["audition", "tea.mid", "--bars", "50-60"]) == 2
