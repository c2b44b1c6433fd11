"""Triangle meshes: tube meshes, the index, placement, and which side of a mesh a point is on."""
