"""Bench: the page for a phone at the bench, and one valve without it."""
