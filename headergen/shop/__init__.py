"""The bench work of a header as numbers."""
