"""The command line: parses, connects, prints."""
