"""Solids: the only room that uses the CAD kernel."""
