"""To hear by: the bass as written, mended, or octaves up, with the harmony under it, as sound."""

__all__ = ["difference", "guide", "mix", "tones", "voices"]
