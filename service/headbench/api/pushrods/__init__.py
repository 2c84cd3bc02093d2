"""Pushrods: lengths, and the preload of hydraulic lifters."""
