"""Waiting: parts that are not here yet, and what waits for them."""
