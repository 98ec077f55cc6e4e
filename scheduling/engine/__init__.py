"""When things can happen: pure Python, no framework. Records go in, a decision with its reasons comes out."""
