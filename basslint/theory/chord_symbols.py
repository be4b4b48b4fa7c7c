"""Which notes does a chord symbol name, as lead sheets write it?

Root, quality, added and altered tones, a bass after a slash: ``Dm7``, ``Bbmaj9``, ``F#m7b5/E``. The
spellings in common use are read, not one house's alone (C. Brandt and C. Roemer, "Standardized
Chord Symbol Notation", 1976, and Open Music Theory on chord symbols; both from memory). What could
be read two ways is refused.
"""

from __future__ import annotations

import re
from fractions import Fraction

from basslint.errors import UsageError
from basslint.theory.names import LETTERS
from basslint.util.records import record

SHORTEST = Fraction(1, 16)  # of a bar: a sixteenth in 4/4; bounds how many chords a song can have
LONGEST = 10_000  # bars: more than a song may have
MOST_CHORDS = 4_096  # of one line: a song's worth, and bounds the time to read it

_NO_CHORD = re.compile(r"^(N\.?C\.?|NC)$")
_SHIFT = {"#": 1, "♯": 1, "b": -1, "♭": -1}
_ROOT = r"[A-G](?:[#♯]{1,2}|[b♭]{1,2})?"
_SYMBOL = re.compile(
    rf"^(?P<root>{_ROOT})"
    r"(?P<kind>maj|Maj|min|Min|dom|dim|aug|ma|mi|mM|M|m|-|Δ|△|o|°|ø|Ø|\+)?"
    r"(?P<major>maj|Maj|ma|M|Δ|△)?"
    r"(?P<number>69|5|6|7|9|11|13)?"
    r"(?P<rest>.*?)"
    rf"(?:/(?P<bass>{_ROOT}))?$"
)
_IN_BRACKETS = re.compile(r"\((maj|Maj|ma|M|Δ|△)(7|9|11|13)\)")  # of a minor chord: Cm(maj7)
_CHANGE = re.compile(
    r"(?P<sus>sus[24]?)"
    r"|add(?P<added>[b♭#♯]?(?:2|4|6|9|11|13))"
    r"|(?:no|omit)(?P<without>[35])"
    r"|(?P<altered>[b♭#♯+-](?:5|9|11|13))"
    r"|(?P<raised>\+)$"
    r"|(?P<alt>alt)$"
)
_WORDS = {  # what each spelling of the kind of chord means; the kind without any is ""
    **dict.fromkeys(("maj", "Maj", "ma", "M", "Δ", "△"), "major"),
    **dict.fromkeys(("min", "Min", "mi", "m", "-"), "minor"),
    **dict.fromkeys(("dim", "o", "°"), "diminished"),
    **dict.fromkeys(("aug", "+"), "augmented"),
    **dict.fromkeys(("ø", "Ø"), "half-diminished"),
    "dom": "dominant",
    "mM": "minor-major",
}
_TRIADS = {  # semitones above the root of third and fifth; Open Music Theory
    "": (4, 7),
    "major": (4, 7),
    "dominant": (4, 7),
    "minor": (3, 7),
    "minor-major": (3, 7),
    "diminished": (3, 6),
    "half-diminished": (3, 6),
    "augmented": (4, 8),
}
_DEGREES = {2: 2, 4: 5, 5: 7, 6: 9, 9: 2, 11: 5, 13: 9}  # of a major scale, in semitones
_STACKED = {7: (), 9: (9,), 11: (9, 11), 13: (9, 11, 13)}  # tones above the seventh
_ALTERED = (1, 3, 6, 8)  # of an altered dominant: both ninths, both fifths


@record(kw_only=True)
class ChordSymbol:
    """One chord as it was written.

    ``root`` pitch class 0–11, −1 where no chord sounds (``N.C.``); ``tones``: its pitch classes,
    rising, the bass after a slash among them; ``bass``: pitch class of that bass, −1 where none is
    written; ``plain``: a root alone was written, which names a major triad among other chords and
    nothing but a root where all chords are written so.
    """

    written: str
    root: int
    tones: tuple[int, ...]
    bass: int = -1
    plain: bool = False


@record
class ChordSpan:
    """A chord and how many bars it lasts."""

    chord: ChordSymbol
    bars: Fraction

    def __str__(self) -> str:
        return self.chord.written if self.bars == 1 else f"{self.chord.written}*{self.bars}"


def read_chords(text: str, place: str) -> tuple[ChordSpan, ...]:
    """Read a line of chords, one a bar unless a length is given: ``Dm Bb*2 N.C. C*1/2 C7*1/2``.

    Raises `UsageError`, which names the ``place`` (an option or a key) and the chord.
    """
    words = text.split()
    if not words:
        raise UsageError(f"{place}: no chord is given.", 'Write chords like "Dm Bb*2 F C".')
    if len(words) > MOST_CHORDS:
        raise UsageError(f"{place}: there are more than {MOST_CHORDS:,} chords.", "Write the loop.")
    spans = []
    for number, word in enumerate(words, start=1):
        symbol, star, length = word.partition("*")
        where = f"{place}: “{word}”, chord {number} of {len(words)},"
        bars = _bars(length) if star else Fraction(1)
        if bars is None:
            raise UsageError(
                f"{where} has no length in bars.",
                f"Write {symbol}*2 for two bars, {symbol}*1/2 for half a bar; {SHORTEST} of a bar "
                f"at least, {LONGEST:,} at most.",
            )
        try:
            spans.append(ChordSpan(read_symbol(symbol), bars))
        except ValueError as error:
            raise UsageError(f"{where} is no chord symbol.", str(error)) from None
    return tuple(spans)


def read_symbol(text: str) -> ChordSymbol:
    """Read one chord symbol. Raises ValueError, which says how to write what was meant."""
    if _NO_CHORD.match(text):
        return ChordSymbol(written=text, root=-1, tones=())
    match = _SYMBOL.match(_IN_BRACKETS.sub(r"\1\2", text.replace("6/9", "69")))
    if not match:
        raise ValueError(_hint(text))
    root = _pitch_class(match["root"])
    above = _tones(
        match["kind"] or "",
        match["major"] or "",
        int(match["number"] or 0),
        re.sub(r"[(),]", "", match["rest"]),
    )
    if above is None:
        raise ValueError(_hint(text))
    bass = _pitch_class(match["bass"]) if match["bass"] else -1
    tones = {(root + tone) % 12 for tone in above} | ({bass} if bass >= 0 else set())
    plain = not any(match[part] for part in ("kind", "major", "number", "rest"))
    return ChordSymbol(written=text, root=root, tones=tuple(sorted(tones)), bass=bass, plain=plain)


def _hint(text: str) -> str:
    if text and not text.strip("|:"):
        return "Leave the bar lines out: a chord lasts a bar, C*1/2 half of one, C*2 two."
    if text[:1] in ("H", "h"):
        return "The note below C is written B, the one below that Bb."
    if text[:1].islower():
        return f"Roots are written in capitals: {text[:1].upper()} or {text[:1].upper()}m."
    return 'Write chords like "Dm Bb F/A C7", or roots alone: "D Bb F C"; N.C. for none.'


def _bars(text: str) -> Fraction | None:
    """A length in bars: ``2``, ``1/2``, ``0.5``; None where it is none or out of bounds."""
    if not re.fullmatch(r"\d{1,6}(/\d{1,6}|\.\d{1,6})?|\.\d{1,6}", text, re.ASCII):
        return None
    try:
        bars = Fraction(text)
    except ZeroDivisionError:
        return None
    return bars if SHORTEST <= bars <= LONGEST else None


def _pitch_class(name: str) -> int:
    return (LETTERS[name[0]] + sum(_SHIFT[sign] for sign in name[1:])) % 12


def _tones(word: str, major: str, number: int, rest: str) -> set[int] | None:
    """Semitones above the root of a chord, by the parts of its symbol; None where it is none."""
    kind = _WORDS.get(word, "")
    if major:  # of the seventh: Cmmaj7, C+M7
        if kind == "minor":
            kind = "minor-major"
        elif kind != "augmented":
            return None
    if not _fits(kind, bool(major), number):
        return None
    third, fifth = _TRIADS[kind]
    tones = {0, third, fifth}
    if number == 5:
        tones = {0, fifth}
    elif number in (6, 69):
        tones |= {9} | ({2} if number == 69 else set())
    elif number or kind in ("half-diminished", "minor-major") or word in ("Δ", "△") or major:
        tones.add(_seventh(kind, bool(major)))
        tones |= {_DEGREES[degree] for degree in _STACKED[number or 7]}
    return _changed(tones, third, fifth, number, rest)


def _fits(kind: str, major: bool, number: int) -> bool:
    """Whether a number may stand after a kind of chord."""
    if number == 5:
        return kind == ""
    if number in (6, 69):
        return kind in ("", "major", "minor") and not major
    if kind == "dominant":
        return number >= 7
    return True


def _seventh(kind: str, major: bool) -> int:
    if kind == "diminished":
        return 9
    return 11 if major or kind in ("major", "minor-major") else 10


def _changed(tones: set[int], third: int, fifth: int, number: int, rest: str) -> set[int] | None:
    """The tones with what is suspended, added, left out and altered; None where that is unclear."""
    at = 0
    stacked = _STACKED.get(number)  # what stands above a seventh, None where none is written
    while at < len(rest):
        match = _CHANGE.match(rest, at)
        if not match:
            return None
        at = match.end()
        if match["sus"]:
            tones = tones - {third} | {2 if match["sus"] == "sus2" else 5}
        elif match["added"]:
            tones = tones | {_degree(match["added"])}
        elif match["without"]:
            if stacked:  # a ninth without its third goes by other names
                return None
            tones = tones - ({third} if match["without"] == "3" else {fifth})
        elif match["raised"]:
            tones = tones - {fifth} | {8}
        elif match["alt"]:
            if number != 7:
                return None
            tones = tones - {fifth} | set(_ALTERED)
        else:
            degree = int(match["altered"][1:])
            if degree == 5 and fifth == _DEGREES[5]:
                tones = tones - {fifth}
            elif (
                degree == 5 or stacked is None or degree in stacked
            ):  # added, altered, or both: it is not said
                return None
            tones = tones | {_degree(match["altered"])}
    return tones


def _degree(text: str) -> int:
    """Semitones of a degree with its sign: ``9``, ``b9``, ``+5``."""
    number = text.lstrip("b♭#♯+-")
    sign = text[: len(text) - len(number)]
    return (_DEGREES[int(number)] + {"+": 1, "-": -1, "": 0, **_SHIFT}[sign]) % 12
