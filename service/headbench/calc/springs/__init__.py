"""Springs: load curves, from readings, from a rating or from dimensions."""
