"""Intake: how the manifold meets the heads."""
