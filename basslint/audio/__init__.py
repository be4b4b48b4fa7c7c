"""What does a sampled loop sound: its tuning, tempo and bars, its soft notes, roots and glides?"""

__all__ = ["answers", "bars", "loop", "placed", "remarks", "tuning"]
