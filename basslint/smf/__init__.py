"""Standard MIDI File bytes, both ways: ``scan`` reads them, ``patch`` edits them in place."""
