"""What is heard and found in one file, and what in its mended copy?"""
