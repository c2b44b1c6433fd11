"""Solids: the only room that knows the CAD kernel."""
