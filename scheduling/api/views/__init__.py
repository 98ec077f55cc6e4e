"""The endpoints, resource by resource; each translates and holds no rule."""
