"""The forms of the set-up: what is asked of each kind of thing, in words and units of whoever reads."""
