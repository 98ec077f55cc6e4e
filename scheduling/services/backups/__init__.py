"""The whole book in one file, and back: from either database, to either database, while it serves."""
