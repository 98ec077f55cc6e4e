"""Kiln work over several nights: what is asked, by which route it goes, and the answer."""
