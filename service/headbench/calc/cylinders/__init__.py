"""Cylinders: chambers, pistons and the compression ratio."""
