"""Judging: limits, verdicts, spreads and the grid that everything is compared on."""
