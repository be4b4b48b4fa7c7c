"""To hear by: the bass as written, mended, or octaves up, with the harmony under it, as sound."""
