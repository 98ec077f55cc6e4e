"""SVG drawn on the server from formatted strings: strips, curves and the bench."""
