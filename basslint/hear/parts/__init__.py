"""Which part is the bass, which hold the harmony, which are drums or melody?"""

__all__ = ["names", "parts", "stated"]
