"""Which findings may stand, and for what reason?"""
