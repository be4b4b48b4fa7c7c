"""What can go wrong, each kind with what happened, where, and what to do next."""

from __future__ import annotations


class BasslintError(Exception):
    """Base of every error that basslint raises on purpose.

    ``message`` says what happened and where; ``advice`` says what to do next. ``kind`` is the
    stable word that the JSON report carries.
    """

    kind = "error"

    def __init__(self, message: str, advice: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.advice = advice

    def __str__(self) -> str:
        return f"{self.message}\n{self.advice}" if self.advice else self.message


class MidiError(BasslintError):
    """A MIDI file that cannot be read. ``byte`` is the offset of the trouble, where one exists."""

    kind = "damaged"

    def __init__(self, message: str, advice: str = "", byte: int | None = None) -> None:
        super().__init__(message, advice)
        self.byte = byte

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.message, self.advice, self.byte))

    def __str__(self) -> str:
        at = "" if self.byte is None else f" (At byte {self.byte:,}.)"
        return f"{super().__str__()}{at}"


class NotMidi(MidiError):
    """The bytes are no Standard MIDI File at all."""

    kind = "not-midi"


class Truncated(MidiError):
    """The file ends before what it announced."""

    kind = "truncated"


class Unsupported(MidiError):
    """A valid file of a sort that has no single arrangement to check (format 2, SMPTE time)."""

    kind = "unsupported"


class TooLarge(MidiError):
    """The file passes one of the stated limits."""

    kind = "too-large"


class Unreadable(MidiError):
    """The operating system would not give the bytes."""

    kind = "unreadable"


class UsageError(BasslintError):
    """A wrong option, part, rule or path on the command line."""

    kind = "usage"


class SettingsError(BasslintError):
    """A settings file with an unknown key or a value of the wrong sort."""

    kind = "settings"


class RuleError(BasslintError):
    """A rule page that does not hold together: names file and line."""

    kind = "rule"


class SoundError(BasslintError):
    """A sound file that cannot be read or measured."""

    kind = "sound"


class MendError(BasslintError):
    """A song that cannot be mended, or a copy that cannot be written; the original is whole."""

    kind = "mend"
