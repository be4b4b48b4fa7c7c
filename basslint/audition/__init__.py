"""To hear by: the bass as written, mended, or octaves up, with the harmony under it, as sound."""

__all__ = ["difference", "embedded", "guide", "mix", "questions", "sounds", "tones", "voices"]
