"""Exact distances: between curves, bodies, triangles and convex solids."""
