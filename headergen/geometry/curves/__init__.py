"""Centrelines, and the round bodies swept along them."""
