"""Standard MIDI File bytes, both ways: ``scan`` reads them, ``patch`` edits them in place."""

__all__ = ["chunks", "rewrite", "scan", "status", "together", "wrapper"]
