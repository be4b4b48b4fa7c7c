"""Which chord root sounds when, and how sure is that?"""
