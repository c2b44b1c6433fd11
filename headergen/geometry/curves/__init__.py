"""Centrelines, and the round bodies that tubes are along them."""
