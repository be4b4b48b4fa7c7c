"""What does the file play? Parts, notes as columns, tempo, meter, bends; nothing guessed."""

__all__ = ["arrangement", "bends", "events", "ranges", "timing"]
