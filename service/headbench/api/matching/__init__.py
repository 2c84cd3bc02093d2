"""Matching: which spring goes where, asked for and answered."""
