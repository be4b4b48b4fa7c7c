"""What does the user state, where, and what holds for a file?"""
