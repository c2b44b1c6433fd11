"""Plane outlines, the flange plate, and room for text on a plate."""
