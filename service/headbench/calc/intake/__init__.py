"""Intake: how the manifold meets the heads."""

from headbench.calc.intake.fit import FaceFindings, FaceLimits, FaceReadings, fit_intake
from headbench.calc.intake.manifold import IntakeFit, IntakeSide, fit_manifold

__all__ = [
    "FaceFindings",
    "FaceLimits",
    "FaceReadings",
    "IntakeFit",
    "IntakeSide",
    "fit_intake",
    "fit_manifold",
]
