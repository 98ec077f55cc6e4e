"""How many seats are reserved in a second: by our endpoint, by a bare one, and by the statements alone."""
