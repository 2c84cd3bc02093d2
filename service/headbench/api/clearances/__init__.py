"""Clearances: coil bind, and the retainer over its seal."""
