"""At which pitch does a bass sound settle, how sure is that, and if no note can be told, why?

A note is claimed where two independent methods hear the same (`pitch_tracks`), it comes to rest
(`settling`), and the file holds no other note. The certainty is the share of drawn sounds that were
right at the same evidence (tests/bench/sounds.py).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.sound.pitch_tracks import SAME_CENTS, Tracks, cents, track
from basslint.sound.settling import STEADY_PERIODS, Rest, come_to_rest
from basslint.util.records import record

Floats = NDArray[np.float64]

_NOISE_DB = -66.0  # below the peak: no less noise is counted on, even where none is heard
_ABOVE_NOISE_DB = 6.0  # where a pitch that is known can be followed to
_WEIGH_DB = 20.0  # above the noise a moment weighs half of a clear one: its phase is uncertain
_STRUCK = 0.5  # of the greatest level: from there on it sounds, though a bow may swell to the end
_LATE = 0.4  # of the moments that agree: from these the settled pitch is taken
_STEADY_CENTS = 80.0  # wider than a vibrato, narrower than a semitone
# Share of the moments from the settled one on at which both methods agree, from which on the note
# was right so often: 1,000 drawn sounds and 500 that are worse than any mark asks for
_CERTAINTY = ((0.3, 0.95), (0.5, 0.98), (0.8, 0.99))
_ROUGH_COSTS = 0.04  # a pitch that has not quite come to rest is the wrong note so much more often
_MOVES_CENTS = 20.0  # between two halves of what should be steady: it is not
_MOST_DOUBT_CENTS = 8.0  # between two halves: less than that is told as settled
# Cents are told as sure where all likely curves are bound for the same pitch, and where a vibrato
# went on for a while after the fall: of 1,095 drawn sounds that rest, .998 of the .952 that are
# left lie within 5 cents, .979 of all
_SURE_SPREAD_CENTS = 5.0
_SURE_SWAY_S = 0.25  # the time that a vibrato of 4 Hz takes to come and go once
# a pitch that is held so long (s) within so much (cents) is a note of its own, no part of a drop
_PLATEAUS = ((0.16, 35.0), (0.3, 90.0))
_TREND_CENTS = 35.0  # over what is steady: further apart, the pitch is still on its way
_TREND_S = 0.3  # a shorter stretch shows no trend: a vibrato takes half as long to rise
_ROUGH_CENTS = 35.0  # so near to where it is bound, a pitch that still falls tells its note
# A fall that is followed well may be carried on so far beyond the sound's end: of 700 drawn sounds
# 8 more were told, all of them right; from 60 cents on every third was a semitone off
_CARRIED_CENTS = 50.0
_CARRIED_SWAYING_CENTS = 10.0  # … where the pitch sways by more than `_STILL_CENTS` besides
_STILL_CENTS = 5.0  # half the width of a vibrato
_CARRIED_DOUBT_CENTS = 5.0  # between two halves of the fall
_OFF_CENTS = 45.0  # between the two methods and the phase: less than half a semitone


@record(kw_only=True)
class Pitch:
    """What is heard of a sound's pitch.

    ``hz`` of the settled sound, None where no note is claimed, and then ``reason`` says why in a
    plain sentence. ``certainty``: chance, 0 to 1, that the note is right; 0 where none is claimed.
    ``settled_s``: from when on the pitch stays within 5 cents of ``hz``, None where that is not
    sure. ``sway`` cents: half the width of a vibrato, 0 where there is none.
    """

    hz: float | None
    certainty: float
    settled_s: float | None
    sway: float
    reason: str


def hear_pitch(band: Floats, rate: float, t60_s: float | None, noise_db: float | None) -> Pitch:
    """The settled pitch of a mono sound, ``band`` float64 [n] below 1 kHz at ``rate`` Hz.

    ``t60_s`` and ``noise_db`` (below the peak) as measured: the decay is taken out first, so that
    the sound repeats itself period by period, and what sinks into the noise is left out.
    """
    envelope = _envelope(band, rate)
    first = int(np.argmax(envelope >= _STRUCK * envelope.max()))
    noise = _NOISE_DB if noise_db is None else max(noise_db, _NOISE_DB)
    last = _last_above(envelope, noise + _ABOVE_NOISE_DB)
    time = np.arange(len(band)) / rate
    growth = 0.0 if t60_s is None else 3.0 * np.log(10.0) / t60_s
    even = band * np.exp(growth * (np.minimum(time, time[last - 1]) - time[last - 1]))
    tracks = track(even, rate, first, last)
    if tracks.agree.sum() < 2:
        return _nothing(_no_agreement(tracks))
    hz = float(np.median(tracks.repeat[_late(tracks)]))
    steady = np.abs(cents(tracks.repeat, hz)) <= _STEADY_CENTS
    steady_rows = np.flatnonzero(steady & tracks.agree)
    if not len(steady_rows):
        return _nothing("The pitch does not come to rest: no note is claimed.")
    begin = _settled_row(steady | ~tracks.agree, int(np.median(steady_rows)))
    reason = _another_note(tracks, hz) or _on_its_way(tracks, steady_rows[steady_rows >= begin])
    if reason:
        return _nothing(reason)
    power = envelope**2
    weight = power / (power + power.max() * 10 ** ((noise + _WEIGH_DB) / 10))
    rest = come_to_rest(even, rate, hz, first, last, weight)
    return _judge(tracks, begin, hz, rest)


def _judge(tracks: Tracks, begin: int, hz: float, rest: Rest | None) -> Pitch:
    """Claim the note of a sound whose pitch was followed to its rest, or say why not."""
    rough = rest is None or rest.settled_s is None or rest.doubt > _MOST_DOUBT_CENTS
    off = _ROUGH_CENTS if rough else _OFF_CENTS
    moves = rest is None or rest.doubt > _MOVES_CENTS
    far = rest is not None and abs(float(cents(rest.hz, hz))) > off
    if rest is None or moves or (far and not _may_be_carried_on(rest, tracks)):
        return _nothing("The pitch still moves as the sound fades: no note is claimed.")
    share = float(np.mean(tracks.agree[begin : np.flatnonzero(tracks.agree)[-1] + 1]))
    certainty = max((c for least, c in _CERTAINTY if share >= least), default=0.0)
    if not certainty:
        return _nothing(_no_agreement(tracks))
    rough = rough or far
    return Pitch(
        hz=rest.hz,
        certainty=certainty - (_ROUGH_COSTS if rough else 0.0),
        settled_s=None if rough or not _sure_to_the_cent(rest) else rest.settled_s,
        sway=rest.sway,
        reason="",
    )


def _sure_to_the_cent(rest: Rest) -> bool:
    """Whether a sound that rests was followed long enough to tell its cents."""
    if rest.settled_s is None or rest.spread > _SURE_SPREAD_CENTS:
        return False
    return rest.sway <= _STILL_CENTS or rest.until_s - rest.settled_s >= _SURE_SWAY_S


def _may_be_carried_on(rest: Rest, tracks: Tracks) -> bool:
    """Whether a fall tells the note that it is bound for, though the sound fades before it."""
    if not rest.constant or rest.doubt > _CARRIED_DOUBT_CENTS:
        return False
    if rest.straight:  # it may go on beyond what was heard, unless it was heard to end
        ends = rest.from_s + rest.constant + STEADY_PERIODS / rest.hz
        if ends > rest.until_s or rest.spread > _CARRIED_CENTS:
            return False
    late = _late(tracks)
    apart = np.abs(cents(rest.at(tracks.time[late]), tracks.repeat[late]))
    left = abs(float(cents(rest.at(rest.until_s), rest.hz)))
    most = _CARRIED_CENTS if rest.sway <= _STILL_CENTS else _CARRIED_SWAYING_CENTS
    return left <= most and float(np.median(apart)) <= SAME_CENTS


def _late(tracks: Tracks) -> NDArray[np.intp]:
    """The last of the moments at which both methods agree, a share of `_LATE`, two at least."""
    agree = np.flatnonzero(tracks.agree)
    return agree[-max(2, round(_LATE * len(agree))) :]


def _nothing(reason: str) -> Pitch:
    return Pitch(hz=None, certainty=0.0, settled_s=None, sway=0.0, reason=reason)


def _no_agreement(tracks: Tracks) -> str:
    clear = tracks.clarity > 0.7
    if not clear.any():
        return "No steady pitch was found: is it a bass note?"
    one, other = (float(np.median(hz[clear])) for hz in (tracks.repeat, tracks.overtone))
    return f"Two methods disagree ({one:.1f} Hz or {other:.1f} Hz): no note is claimed."


def _settled_row(steady: NDArray[np.bool_], middle: int) -> int:
    """The row from which on the pitch stays where it settles, before the ``middle`` of what does:
    what strays in the noise of the end comes later."""
    away = np.flatnonzero(~steady[:middle])
    return int(away[-1]) + 1 if len(away) else 0


def _another_note(tracks: Tracks, hz: float) -> str:
    """Why the sound is no single note: it holds another pitch for a while; empty if it is one."""
    off = cents(tracks.repeat, hz)
    away = tracks.agree & (np.abs(off) > _STEADY_CENTS)
    step = float(np.median(np.diff(tracks.time))) if len(off) > 1 else 1.0
    for seconds, wide in _PLATEAUS:
        size = max(int(np.ceil(seconds / step)) + 1, 3)
        for row in range(len(off) - size + 1):
            span = slice(row, row + size)
            if away[span].all() and np.ptp(off[span]) <= wide:
                other = float(np.median(tracks.repeat[span]))
                return f"It holds two notes ({other:.1f} Hz and {hz:.1f} Hz): no note is claimed."
    return ""


def _on_its_way(tracks: Tracks, rows: NDArray[np.intp]) -> str:
    """Why the pitch does not rest: it drifts over all that is steady; empty if it rests."""
    if len(rows) < 6 or tracks.time[rows[-1]] - tracks.time[rows[0]] < _TREND_S:
        return ""
    third = len(rows) // 3
    off = cents(tracks.repeat[rows], 440.0)
    way = float(np.median(off[-third:]) - np.median(off[third : 2 * third]))
    if abs(way) > _TREND_CENTS:
        return f"The pitch moves to the end ({way:+.0f} cents): no note is claimed."
    return ""


def _last_above(envelope: Floats, decibels: float) -> int:
    """One past the last sample that is no further than this below the loudest."""
    return int(np.flatnonzero(envelope >= envelope.max() * 10 ** (decibels / 20))[-1]) + 1


def _envelope(band: Floats, rate: float) -> Floats:
    width = max(int(rate / 40), 2)  # 25 ms, about a period
    window = np.hanning(width + 2)[1:-1]
    power = np.convolve(band**2, window / window.sum(), mode="same")
    return np.asarray(np.sqrt(np.maximum(power, 0.0)), dtype=np.float64)
