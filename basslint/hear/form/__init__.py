"""Where do bars repeat, and where do phrases and four-bar groups begin?"""

__all__ = ["bars", "hypermeter", "phrases"]
