"""Which slides does the bass play, and where do they land?"""
