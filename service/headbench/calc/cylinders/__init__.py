"""Cylinders: chambers, pistons and the compression ratio."""

from headbench.calc.cylinders.cylinder import Chamber, Compression, Cylinder, OverPiston, compression
from headbench.calc.cylinders.wanted import ForTargets, RatioTargets, for_targets

__all__ = [
    "Chamber",
    "Compression",
    "Cylinder",
    "ForTargets",
    "OverPiston",
    "RatioTargets",
    "compression",
    "for_targets",
]
