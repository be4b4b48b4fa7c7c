"""What the page sounds: the same samples as the auditions, in tune, in time, loud as agreed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from page_rendered import WISH, bars_of, level_db, played, samples_of
from page_songs import TEA, beat_report, data_of, reported

from basslint.audition import sounds
from basslint.audition.difference import _hull
from basslint.audition.loudness import loudness
from basslint.audition.mix import _mixed
from basslint.audition.peaks import limit, true_peak
from basslint.audition.sounds import RATE, Wish
from basslint.judging.results import FileReport
from basslint.report.grouping import grouped

SLIDES = (
    "tempo 120\ndecay 2s\nbend-range 12\nkeys | A3+C4+E4:4 |*3\nsub wheel 12\n"
    "sub | A1:1~.25 E2:2 .:1 | A1:3.5 .:.5 | A1:4~1 |\n"
    "sub bend | 1:0 | 1:0 2:0 3:+7 4:+7 4.9:0 | 1:0 |\n"
    "kick | C2:2 C2:2 |*3\nhat | F#2:1/2x8 |*3"
)


@pytest.mark.parametrize("small", [False, True])
@pytest.mark.parametrize("first", [1, 2])
def test_the_page_sounds_what_the_audition_sounds(modules, small: bool, first: int) -> None:
    report = beat_report(SLIDES)
    data = modules.load(report)
    chart = report.chart
    wish = WISH | {"small": small, "decay": data["decay"]}
    page = bars_of(modules, first, 3, wish)
    own = _mixed(chart, Wish(bars=(first, 3), small_speakers=small))
    assert level_db(page - own) < level_db(own) - 60


def test_pitch_and_glide_times_on_the_page(modules) -> None:
    """Pitch within 5 cents of equal temperament (ISO 16) and glides within 5 ms, by counting the
    zero crossings of the page's own samples."""
    data = modules.load(beat_report(SLIDES))
    wish = WISH | {"harmony": False, "drums": False, "decay": 30}
    samples = bars_of(modules, 1, 1, wish)
    rise = np.flatnonzero((samples[:-1] < 0) & (samples[1:] >= 0))
    part = -samples[rise] / (samples[rise + 1] - samples[rise])
    moments = (rise + part) / RATE
    middle, hertz = (moments[1:] + moments[:-1]) / 2, 1 / np.diff(moments)

    def cents(inside: np.ndarray, pitch: float) -> float:
        return float(np.abs(1200 * np.log2(np.median(hertz[inside]) / 440) + 100 * (69 - pitch)))

    assert cents((middle > 0.1) & (middle < 0.48), 33) < 5  # A1
    assert cents((middle > 0.7) & (middle < 1.3), 40) < 5  # E2
    pitch = 69 + 12 * np.log2(hertz / 440)
    moving = middle[(pitch > 34) & (pitch < 39)]
    line = np.polyfit(moving, pitch[(pitch > 34) & (pitch < 39)], 1)
    begun, landed = (33 - line[1]) / line[0], (40 - line[1]) / line[0]
    assert begun == pytest.approx(0.5, abs=0.005)  # beat 2 at 120 bpm
    assert landed == pytest.approx(0.6, abs=0.005)  # after the usual 100 ms
    assert data["tones"][0][3], "it is drawn as a slide too"


FAR_FILL = (
    "tempo 140\ndecay 900ms\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
    "sub | A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 || A1:3.5 | F1:3 .:.5 F1:1/12x6 | C2:3.5 | G1:3.5 ||"
    " A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 |*2"
)


# bar 2 enters 21 ms after the kick
OFF_KICK = (
    "tempo 140\ndecay 900ms\nkeys | A3+C4+E4:4 |*8\nkick | C2:2 C2:2 |*8\n"
    "sub | A1:3.5 .:.5 | .:.05 A1:3.45 .:.5 | A1:3.5 .:.5 | A1:3.5 .:.5 || A1:3.5 .:.5 |*4"
)


@pytest.mark.parametrize(
    ("report", "rules"),
    [
        (lambda: reported(TEA), {"slide-off-scale", "off-root", "slide-after-decay"}),
        (lambda: beat_report(FAR_FILL), {"fill-off-phrase"}),
        (lambda: beat_report(OFF_KICK), {"kick-flam"}),
    ],
)
def test_every_fix_is_heard(modules, report: Callable[[], FileReport], rules: set[str]) -> None:
    """For every finding with a fix, written and mended differ by more than −40 dBFS RMS from the
    first to the last tick that the finding or its fix touches, as they are played: at full level,
    matched, limited."""
    data = modules.load(report())
    song = report().chart.song
    for n, (group, told) in enumerate(
        zip(grouped(report().findings), data["findings"], strict=True)
    ):
        if told["fix"] is None:
            continue
        assert told["change"], told["rule"]
        one, other = played(modules, n)
        begin = song.tempo.seconds(told["span"][0])
        first, last = (round(RATE * (song.tempo.seconds(t) - begin)) for t in _hull(group.first))
        assert level_db((one - other)[max(first, 0) : last]) > -40, told["rule"]
        rules = rules - {told["rule"]}
    assert not rules, "each of these was compared"


@pytest.mark.parametrize("small", [False, True])
def test_pairs_are_as_loud_and_below_the_ceiling(modules, small: bool) -> None:
    """ITU-R BS.1770 by pyloudnorm; no sample and no true peak above −1 dBFS at full level."""
    import pyloudnorm

    meter = pyloudnorm.Meter(RATE)
    data = modules.load(reported(TEA))
    ceiling = 10 ** (-1 / 20)
    for n in range(int(small), len(data["findings"]), 2):
        one, other = played(modules, n, small=small)
        loud = [meter.integrated_loudness(s) for s in (one, other)]
        assert loud[0] == pytest.approx(loud[1], abs=0.2)
        assert max(true_peak(one), true_peak(other)) <= ceiling * 1.005
        assert np.abs(one).max() <= ceiling and np.abs(other).max() <= ceiling
        assert true_peak(one) > 0.95 * ceiling


def test_chunks_join_without_a_seam(modules) -> None:
    """Chunk by chunk it is what it is at once, in bars through which slides and chords are held."""
    data = modules.load(beat_report(SLIDES))
    wish = WISH | {"decay": data["decay"], "small": True}
    whole = bars_of(modules, 1, 3, wish)
    parts = samples_of(
        modules,
        """(() => {
          const to = song.seconds(song.barStart[3]);
          const out = [];
          for (let at = 0; at < given.count; at += 5000)
            out.push(...voices.render(written, at / voices.RATE, 5000, 0, to, given.wish));
          return out;
        })()""",
        count=len(whole),
        wish=wish,
    )[: len(whole)]
    assert np.abs(parts - whole).max() < 1e-6


def test_loudness_and_limiter_are_those_of_the_audition(modules) -> None:
    modules.load(reported(TEA))
    noise = np.random.default_rng(3).standard_normal(RATE) * np.linspace(0.02, 0.6, RATE)
    given = {"samples": noise.tolist(), "rate": RATE}
    measured = modules.page.evaluate("g => loudness.measure(g.samples, g.rate)", given)
    assert measured == pytest.approx(loudness(noise, RATE), abs=0.01)
    peak = modules.page.evaluate("g => loudness.truePeak(g.samples)", given)
    assert peak == pytest.approx(true_peak(noise), rel=1e-6)
    held = samples_of(modules, "loudness.limited(given.samples, 0.5, given.rate)", **given)
    limit(noise, 0.5, RATE)
    assert level_db(held - noise) < -80


def test_a_song_longer_than_is_measured_at_once_stays_below_the_ceiling(modules) -> None:
    from page_songs import repeated

    data = modules.load(reported(repeated(TEA, 4)))
    assert data["ear"]
    chunks = modules.page.evaluate(
        """wish => {
          const player = makePlayer();
          const piece = { id: "song", from: 0, to: song.seconds(song.length), wish,
            sides: { written, mended: sounds.mended(song, written, song.data.ear) } };
          const most = [0, 0];
          for (let at = 0; at < piece.to * voices.RATE - 88200; at += 12 * 22050)
            ["written", "mended"].forEach((side, i) => {
              for (const x of player.chunk(piece, side, at, 22050))
                most[i] = Math.max(most[i], Math.abs(x));
            });
          return most;
        }""",
        WISH | {"decay": 1.5},
    )
    assert min(chunks) > 0.5 and max(chunks) <= 10 ** (-1 / 20)


def test_octaves_up_raise_the_bass_alone(modules) -> None:
    data = modules.load(beat_report(SLIDES))
    bass = WISH | {"harmony": False, "drums": False, "decay": data["decay"]}

    def strongest(wish: dict) -> float:
        power = np.abs(np.fft.rfft(bars_of(modules, 3, 3, wish)[: RATE // 2]))
        return float(power.argmax() * 2)

    assert strongest(bass) == pytest.approx(55, abs=2)
    assert strongest(bass | {"up": 2}) == pytest.approx(220, abs=2)
    harmony = WISH | {"bass": False, "drums": False, "decay": data["decay"]}
    assert np.array_equal(
        bars_of(modules, 3, 3, harmony), bars_of(modules, 3, 3, harmony | {"up": 2})
    )


def test_the_decay_assumed_is_the_auditions(modules) -> None:
    assert data_of(reported(TEA, decay_s=None))["decay"] == sounds.GUESSED_T60_S
