"""Exact centrelines, frames, distances and tube meshes, with numpy only."""
