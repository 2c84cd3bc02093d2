"""Batch: many requests of any kind as lines in, their answers as lines out."""
