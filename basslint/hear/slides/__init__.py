"""Which slides does the bass play, and where do they land?"""

__all__ = ["fitting_range", "glides", "residual_bend", "slides", "unstated_range", "voice"]
