"""Wanted: the chamber or the gasket that gives a ratio or a quench, or how near one can come."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from headbench.calc.cylinders.compression_ratio import chamber_for_ratio, gasket_for_quench, gasket_for_ratio, quench
from headbench.calc.cylinders.cylinder import Compression
from headbench.calc.judging.touching import clearance_verdict
from headbench.errors import NotReachable


@dataclass(frozen=True, slots=True)
class Reached:
    """An inverse question's answer.

    needed : float, NaN if it cannot be had, or a reading is missing [SI]
    nearest : float, what is wanted if it can be had; NaN if a reading is missing [SI]
    why : str, what is in the way, "" for nothing
    """

    needed: float
    nearest: float
    why: str


def reach(question: Callable[..., float], wanted: float, *known: Any) -> Reached:
    """Ask an inverse question; what cannot be reached is an answer too.

    Parameters
    ----------
    question : function
        Takes what is wanted, then what is known; raises NotReachable [-]
    wanted : float
        What is wanted [any unit]
    known : numbers or what else it takes
        What is known [any unit]

    Returns
    -------
    Reached

    >>> found = reach(chamber_for_ratio, 50.0, 720.0e-6, 16.0e-6)
    >>> found.needed, round(found.nearest, 9), found.why
    (nan, 46.0, 'gasket, deck and dish alone are too much volume')
    """
    try:
        needed = question(wanted, *known)
    except NotReachable as short:
        return Reached(needed=math.nan, nearest=short.nearest, why=str(short))
    return Reached(needed=needed, nearest=math.nan if math.isnan(needed) else wanted, why="")


@dataclass(frozen=True, slots=True)
class RatioTargets:
    """What is wanted of a bank, NaN where it is not.

    static_ratio : float, above 1 [-]
    quench : float [m]
    thinnest_gasket : float, the thinnest there is, tightened down; 0 for no limit [m]
    """

    static_ratio: float = math.nan
    quench: float = math.nan
    thinnest_gasket: float = 0.0


@dataclass(frozen=True, slots=True)
class ForTargets:
    """What one cylinder needs; None where it was not asked for.

    chamber : Reached or None, chamber volume that gives the ratio [m3]
    gasket : Reached or None, compressed gasket that gives the ratio [m]
    quench_with_gasket : float, quench that this gasket leaves [m]
    quench_verdict : int, Verdict code on it [-]
    gasket_for_quench : Reached or None, compressed gasket that gives the quench [m]
    """

    chamber: Reached | None
    gasket: Reached | None
    quench_with_gasket: float
    quench_verdict: int
    gasket_for_quench: Reached | None


def for_targets(targets: RatioTargets, bank: Compression, quench_minimum: float = 0.0) -> list[ForTargets]:
    """Chamber or gasket that gives every cylinder of a bank its ratio and its quench, all else as it is.

    Parameters
    ----------
    targets : RatioTargets
        What is wanted [-]
    bank : Compression
        The bank as it is: `cylinder.compression` [-]
    quench_minimum : float
        The least quench that is allowed; 0 where only touching is rejected [m]

    Returns
    -------
    list of ForTargets (C)

    >>> from headbench.calc.cylinders.cylinder import Chamber, Cylinder, compression
    >>> common = Cylinder(bore=0.100, stroke=0.080, deck_clearance=0.0, gasket_thickness=1.0e-3, opening_area=80.0e-4)
    >>> (line,) = for_targets(RatioTargets(static_ratio=10.0), compression(common, [Chamber(volume=62.0e-6)]))
    >>> round(line.chamber.needed * 1e6, 3), round(line.gasket.needed * 1e3, 4)
    (61.813, 0.9766)
    """
    ratio, thinnest = targets.static_ratio, targets.thinnest_gasket
    lines = []
    for over in bank.pistons:
        chamber = gasket = by_quench = None
        left = math.nan
        # no engine has a ratio of 1 or less: `find_ratio_faults`
        if ratio > 1.0:
            chamber = reach(chamber_for_ratio, ratio, bank.swept_volume, over.without_chamber)
            known = bank.swept_volume, over.without_gasket, bank.opening_area, thinnest
            gasket = reach(gasket_for_ratio, ratio, *known)
            left = quench(over.deck_clearance, gasket.needed)
        if not math.isnan(targets.quench):
            by_quench = reach(gasket_for_quench, targets.quench, over.deck_clearance, thinnest)
        lines.append(ForTargets(chamber, gasket, left, clearance_verdict(left, quench_minimum), by_quench))
    return lines
