"""What is heard and found in one file, and what in its mended copy?"""

__all__ = ["book", "group", "members", "mended", "one_file"]
