"""Triangle meshes: made of tubes, indexed, placed, and which side of them a point is on."""
