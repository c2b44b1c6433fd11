"""What the workshop needs to know, as numbers."""
