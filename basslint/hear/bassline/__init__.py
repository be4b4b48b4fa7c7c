"""Which bass pattern does the line play, and what does each note do in it?"""
