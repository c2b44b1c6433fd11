"""Chassis meshes: files of every format, in which units, where they lie, and whether they close."""
