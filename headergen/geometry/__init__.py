"""Exact centrelines, frames, distances and tube meshes, with numpy and nothing else."""
