"""What does the user state, where, and what holds for a file?"""

__all__ = ["discovery", "display", "loops", "model", "run_options", "waiver_writer"]
