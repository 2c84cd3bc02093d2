"""Coils: a spring worked out from its wire and its shape."""
