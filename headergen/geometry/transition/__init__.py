"""The piece from a port's shape to the tube's round."""
