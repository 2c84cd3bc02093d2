"""Masses: what moves with a valve, weighed."""
