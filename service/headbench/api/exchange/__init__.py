"""Exchange: HTTP itself, decoding, refusals and what is logged."""
