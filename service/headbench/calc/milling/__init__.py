"""Milling: what a cut changes, all together."""

from headbench.calc.milling.cam_timing import CamDrive
from headbench.calc.milling.milling import Head, HeadChamber, HeadSeat, MilledChamber, MilledHead, mill
from headbench.calc.milling.wanted import MillingTargets

__all__ = [
    "CamDrive",
    "Head",
    "HeadChamber",
    "HeadSeat",
    "MilledChamber",
    "MilledHead",
    "MillingTargets",
    "mill",
]
