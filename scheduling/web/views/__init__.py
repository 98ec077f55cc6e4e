"""The pages: each reads one selector or calls one service, and holds no rule of its own."""
