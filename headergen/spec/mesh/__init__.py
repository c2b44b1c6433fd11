"""Chassis meshes: file formats, units, placement, and whether they are closed."""
