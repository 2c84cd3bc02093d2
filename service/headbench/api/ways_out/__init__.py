"""Ways out: which other parts put a kind of valve right."""
