"""Vocabulary: quantities, positions, targets, checks and findings, which every room speaks."""
