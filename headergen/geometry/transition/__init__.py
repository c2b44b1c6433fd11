"""The transition from a port's shape to the round tube."""
