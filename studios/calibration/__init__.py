"""From a logged temperature to an equipment record: which stretch is which, the fit, and how good it is."""
