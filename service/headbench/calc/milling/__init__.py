"""Milling: what a cut changes, all together."""
