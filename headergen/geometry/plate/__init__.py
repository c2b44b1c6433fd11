"""Plane outlines, the flange plate, and where words find room on a plate."""
