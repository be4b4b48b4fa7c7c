"""Auditions: the file's own slides and bends, a quiet peak, the bars that were asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from beats import heard

import basslint
from basslint.audition import mix
from basslint.audition.loudness import loudness, powers
from basslint.audition.mix import PEAK, render, wav
from basslint.audition.peaks import limit, true_peak
from basslint.audition.sounds import RATE, Wish
from basslint.audition.tones import bass_tones
from basslint.cli.main import main
from basslint.errors import UsageError

GLIDE = "tempo 120\ndecay 4s\nglide 100ms\nkeys | A3+C4+E4:4 |*2\nsub | A1:1~.25 E2:2 .:1 |*2"
WHEEL = (
    "tempo 120\ndecay 4s\nkeys | A3+C4+E4:4 |*2\nsub wheel 12\nsub | A1:3.5 .:.5 |*2\n"
    "sub bend | 1:0 2:0 3:+7 4:+7 4.9:0 | 1:0 |"
)


def test_an_overlap_glides_for_the_stated_time() -> None:
    chart = heard(GLIDE)
    tone = bass_tones(chart, 0, 1920)[0]
    assert (tone.start, tone.end) == pytest.approx((0.0, 1.5))
    pitch = tone.pitch(np.array([0.2, 0.5, 0.55, 0.6, 1.4]))
    assert pitch == pytest.approx([33, 33, 36.5, 40, 40], abs=0.02)


def test_a_bend_is_followed_within_two_cents_at_its_events() -> None:
    """MIDI 1.0: 14-bit wheel, centre 8192; RPN 0 = 12 semitones. 7 semitones = 4779 steps."""
    chart = heard(WHEEL)
    changes = chart.song.changes
    bends = changes.take(changes.kind == 0xE0)
    tone = bass_tones(chart, 0, 1920)[0]
    inside = bends.tick < 3.5 * 480
    at = chart.song.tempo.seconds(bends.tick[inside]) + 1e-5
    wheel = 33 + bends.value[inside] / 8192 * 12
    assert np.abs(tone.pitch(at) - wheel).max() < 0.02
    assert tone.pitch(np.array([1.2])) == pytest.approx(40.0, abs=0.02)


def test_octaves_up_lift_the_bass_and_leave_the_harmony() -> None:
    """Two octaves up a bass alone has four times its frequency; the harmony's peak stays."""
    chart = heard(GLIDE)

    def strongest(wish: Wish, low: float, high: float) -> float:
        samples = render(chart, wish)[: RATE // 2]
        hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
        inside = (hertz > low) & (hertz < high)
        return float(hertz[inside][np.abs(np.fft.rfft(samples))[inside].argmax()])

    alone = {"bars": (1, 1), "solo": True}
    assert strongest(Wish(**alone), 20, 2000) == pytest.approx(55.0, abs=2)
    assert strongest(Wish(**alone, octaves_up=2), 20, 2000) == pytest.approx(220.0, abs=2)
    harmony = [strongest(Wish(bars=(1, 1), octaves_up=up), 240, 290) for up in (0, 2)]
    assert harmony[0] == harmony[1] == pytest.approx(261.6, abs=2)  # C4, ISO 16


def test_it_starts_quiet_and_never_clips() -> None:
    samples = render(heard(WHEEL), Wish())
    assert true_peak(samples) == pytest.approx(PEAK, rel=1e-6)
    assert 20 * np.log10(PEAK) == pytest.approx(-12.0)
    assert len(samples) == round(4.5 * RATE)


def level_db(samples: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(samples**2)) + 1e-12))


def test_what_is_held_from_before_the_bars_sounds_in_them() -> None:
    """A chain of overlaps from bar 1 to bar 8, and a long note below it: bar 8 is no silence."""
    chain = "tempo 120\ndecay 30s\nkeys | A3+C4+E4:4 |*8\nsub | A1:4~.5 | E2:4~.5 |*4"
    samples = render(heard(chain), Wish(bars=(8, 8), solo=True))
    assert level_db(samples[: 2 * RATE]) > -40
    assert abs(samples[0]) < 1e-3, "it fades in, as it begins in the middle of a note"
    held = heard("tempo 120\ndecay 30s\nkeys | A3+C4+E4:4 |*4\nsub | A1:16 | . | . | . |")
    assert level_db(render(held, Wish(bars=(3, 3), solo=True))) > -40


def test_a_note_that_slides_back_to_one_still_held_sounds_on() -> None:
    """A1 held for four beats with E2 on top for one: A1, E2, A1 again, in one stroke."""
    chart = heard("tempo 120\ndecay 30s\nkeys | A3+C4+E4:4 |*2\nsub | A1:1~3 E2:1 .:2 |*2")
    (tone,) = bass_tones(chart, 0, 1920)
    assert (tone.start, tone.end) == pytest.approx((0.0, 2.0))
    heard_at = tone.pitch(np.array([0.4, 0.8, 1.5]))
    assert heard_at == pytest.approx([33, 40, 33], abs=0.02)


def test_a_slide_that_is_overtaken_goes_on_from_where_it_stands() -> None:
    """Three overlaps 50 ms apart with glides of 100 ms: times rise and pitch never jumps."""
    chart = heard(
        "tempo 120\ndecay 9s\nglide 100ms\nkeys | A3+C4+E4:4 |*2\n"
        "sub | A1:1~1 C2:.1~1 E2:.1~1 A2:1 .:1.8 |*2"
    )
    for tone in bass_tones(chart, 0, 1920):
        assert (np.diff(tone.times) > 0).all()
        pitch = tone.pitch(np.arange(tone.start, tone.end, 0.001))
        assert np.abs(np.diff(pitch)).max() < 0.5, "12 semitones in 100 ms are .12 a millisecond"


ROLL = (
    "tempo 140\nkeys | A3+C4+E4:4 |*4\nsub | A1:3.5 |*4\n"
    "snare | . D2:2 D2:1 | . D2:2 D2:1 | . D2:2 D2:1 | {fill} |"
)


def test_drums_are_heard() -> None:
    """The same bars with another fill: what differs is well above −40 dBFS."""
    one = render(heard(ROLL.format(fill=".:3 D2:1/4x4")), Wish())
    other = render(heard(ROLL.format(fill=".:2 D2:1/8x8 .:1")), Wish())
    assert level_db(one - other) > -40


QUIET, LOUD = "A1:3.5@40", "A1:3.5@127"
PAIR = "tempo 100\ndecay 3s\nkeys | A3+C4+E4:4 |*4\nsub | {0} | {0} | {0} | {0} |"


def test_a_pair_is_matched_in_loudness_by_other_hands() -> None:
    """ITU-R BS.1770 by pyloudnorm, on a pair that differs by 10 dB in its bass."""
    import pyloudnorm

    meter = pyloudnorm.Meter(RATE)
    written, mended = heard(PAIR.format(QUIET)), heard(PAIR.format(LOUD))
    one, other = render(written, Wish()), render(mended, Wish(), written)
    assert meter.integrated_loudness(one) == pytest.approx(
        meter.integrated_loudness(other), abs=0.2
    )
    alone = abs(loudness(one, RATE) - loudness(render(mended, Wish()), RATE))
    assert alone > 1.0, "it would not be matched of itself"
    assert true_peak(other) <= PEAK * 1.01


@pytest.mark.parametrize("louder", [-30.0, 4.0])
def test_it_is_matched_as_if_all_of_it_were_weighed_in_every_round(louder: float) -> None:
    """The limiter takes so much of a quiet hum with strokes that the gain is raised again."""
    random = np.random.default_rng(2)
    signal = 0.1 * random.normal(size=4 * RATE)
    for at in range(0, 4 * RATE, RATE // 5):
        signal[at : at + 900] *= 8.0 * np.hanning(len(signal[at : at + 900]))
    aim, gain, rounds = loudness(signal, RATE) + louder, 1.0, 0
    found, expected = aim - louder, signal
    while abs(aim - found) >= 0.02 and rounds < 4:
        gain *= 10 ** ((aim - found) / 20)
        expected = signal * gain
        limit(expected, PEAK, RATE)
        found, rounds = loudness(expected, RATE), rounds + 1
    assert (rounds > 1) == (louder > 0)
    made = mix._matched(signal.copy(), powers(signal, RATE), aim)
    assert np.abs(made - expected).max() < 1e-9


def test_small_speakers_get_harmonics_above_the_sub() -> None:
    """More than 20 dB of the sound above 3 f, where the pure sub has next to nothing."""
    chart = heard("tempo 120\ndecay 9s\nkeys | A3+C4+E4:4 |*2\nsub | A1:3.9 |*2")

    def above(small: bool) -> float:
        samples = render(chart, Wish(bars=(1, 1), solo=True, small_speakers=small))[: 2 * RATE]
        power = np.abs(np.fft.rfft(samples)) ** 2
        hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
        return float(10 * np.log10(power[hertz > 2.5 * 55].sum() / power.sum()))

    assert above(small=True) > -12 > -30 > above(small=False)


def test_bars_that_are_not_there_are_refused() -> None:
    with pytest.raises(UsageError, match="bars 2-9"):
        render(heard(GLIDE), Wish(bars=(2, 9)))


def test_the_wav_is_what_was_rendered(tmp_path: Path) -> None:
    import soundfile

    samples = render(heard(GLIDE), Wish(bars=(1, 1)))
    (tmp_path / "a.wav").write_bytes(wav(samples))
    back, rate = soundfile.read(tmp_path / "a.wav")
    assert rate == RATE
    assert np.abs(back - samples).max() < 2**-22  # 24 bits


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


def test_the_command_pairs_written_and_mended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The README's sample, bars with a fault that is mended safely: heard, and as loud."""
    import pyloudnorm
    import soundfile

    monkeypatch.chdir(tmp_path)
    sample = Path(basslint.__file__).parents[1] / "samples" / "spilled-tea.mid"
    (tmp_path / "tea.mid").write_bytes(sample.read_bytes())
    made = []
    for words in ([], ["--mended"]):
        assert main(["audition", "tea.mid", "--bars", "5-7", *words, "--output", "a.wav"]) == 0
        made.append(soundfile.read("a.wav")[0])
    meter = pyloudnorm.Meter(RATE)
    first, second = (meter.integrated_loudness(m) for m in made)
    assert first == pytest.approx(second, abs=0.2)
    assert level_db(made[0] - made[1]) > -40


def test_the_heard_roots_sound_two_octaves_up_in_place_of_the_bass() -> None:
    """A minor for a bar, F for a bar: A3 (220 Hz) and F3 (174.6 Hz, ISO 16), and no sub."""
    chart = heard("tempo 120\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*4\nsub | A1:4 | F1:4 |*4")
    alone = render(chart, Wish(bars=(1, 2), roots=True, solo=True))
    for bar, hertz in ((0, 220.0), (1, 174.6)):
        power = np.abs(np.fft.rfft(alone[bar * 2 * RATE :][: 2 * RATE])) ** 2
        assert power.argmax() / 2 == pytest.approx(hertz, abs=1)
        assert power[: 2 * 120].sum() < 1e-3 * power.sum()
    assert level_db(render(chart, Wish(bars=(1, 2), roots=True)) - alone) > -40, "over the harmony"
