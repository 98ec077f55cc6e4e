"""What is marked for translation, and the catalogue that translates it: `make words` brings them together."""
