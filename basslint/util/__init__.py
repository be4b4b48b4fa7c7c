"""Atomic files, safe texts, columns put in order."""
