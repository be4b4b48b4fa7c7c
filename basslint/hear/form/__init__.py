"""Where do bars repeat, and where do phrases and four-bar groups begin?"""
