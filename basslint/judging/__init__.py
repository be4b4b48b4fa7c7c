"""What is off in a song by a book of rules, and what could not be judged?"""
