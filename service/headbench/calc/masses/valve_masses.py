"""Valve masses: what moves with every valve of a job, the sets it makes, and what would make them match."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from headbench.calc.gauges.scale_readings import mass_to_remove
from headbench.calc.masses.valve_mass import MovingMass, WeighedParts, moving_mass_by_part


class PartTotals(NamedTuple):
    """All parts of one kind of valve together, over what was weighed.

    position_count, weighed_count : int, valves of the kind, and those of which valve, retainer and locks were weighed
    valve, retainer, locks, lash_cap, pushrod, lifter : float [kg]
    springs : float, with their dampers [kg]
    """

    position_count: int
    weighed_count: int
    valve: float
    retainer: float
    locks: float
    lash_cap: float
    pushrod: float
    lifter: float
    springs: float


class ToRemove(NamedTuple):
    """What to take off one valve's parts to match the lightest of its kind; NaN where that was not weighed.

    valve, retainer, locks, moving_mass : float [kg]
    """

    valve: float
    retainer: float
    locks: float
    moving_mass: float


@dataclass(frozen=True, slots=True)
class ValveMasses:
    """What moves with every valve of a job.

    moving : list of MovingMass, for each valve
    to_remove : list of ToRemove, for each valve
    totals : PartTotals by kind
    """

    moving: Sequence[MovingMass]
    to_remove: Sequence[ToRemove]
    totals: Mapping[str, PartTotals]


def sum_masses(parts: Sequence[WeighedParts], kinds: Sequence[str]) -> ValveMasses:
    """Moving mass of every valve, what makes it match the lightest of its kind, and the totals by kind.

    Parameters
    ----------
    parts : sequence (P,) of WeighedParts
        What was weighed of each valve [-]
    kinds : sequence (P,) of str
        The kind of each valve; intake valves are never matched with exhaust valves [-]

    Returns
    -------
    ValveMasses

    Notes
    -----
    See `moving_mass_by_part` and `mass_to_remove`. What was not weighed is in no total.

    >>> from headbench.calc.coils.motion import SPRING_SHARE
    >>> light = WeighedParts(
    ...     valve=0.1041, retainer=0.0198, locks=0.0051, lash_cap=0.0, springs=0.09, spring_share=SPRING_SHARE,
    ...     retainer_coils=0.0, seat_coils=0.0, dampers=0.0, damper_share=SPRING_SHARE, rocker=0.0, pushrod=0.0,
    ...     lifter=0.0, rocker_ratio=1.0,
    ... )
    >>> found = sum_masses([light, light._replace(valve=0.1045)], ["intake", "intake"])
    >>> [round(one.total, 9) for one in found.moving], [round(off.valve, 9) for off in found.to_remove]
    ([0.159, 0.1594], [0.0, 0.0004])
    >>> round(found.totals["intake"].valve, 9)
    0.2086
    """
    moving = [moving_mass_by_part(one) for one in parts]
    to_remove: dict[int, ToRemove] = {}
    for places in _places(kinds).values():
        own = [parts[place] for place in places]
        columns = (
            mass_to_remove([one.valve for one in own]),
            mass_to_remove([one.retainer for one in own]),
            mass_to_remove([one.locks for one in own]),
            mass_to_remove([moving[place].total for place in places]),
        )
        to_remove.update(zip(places, map(ToRemove, *columns), strict=True))
    return ValveMasses(moving, [to_remove[place] for place in range(len(parts))], totals_by_kind(parts, kinds))


def totals_by_kind(parts: Sequence[WeighedParts], kinds: Sequence[str]) -> dict[str, PartTotals]:
    """All parts together of the valves of each kind, over what was weighed.

    Parameters
    ----------
    parts : sequence (P,) of WeighedParts
        What was weighed of each valve [-]
    kinds : sequence (P,) of str
        The kind of each valve [-]

    Returns
    -------
    dict of PartTotals
        By kind; of a kind that no valve is there are none [-]

    >>> totals_by_kind([], [])
    {}
    """
    return {kind: _totals([parts[place] for place in places]) for kind, places in _places(kinds).items()}


def _places(kinds: Sequence[str]) -> dict[str, list[int]]:
    by_kind: dict[str, list[int]] = {}
    for place, kind in enumerate(kinds):
        by_kind.setdefault(kind, []).append(place)
    return by_kind


def _totals(parts: Sequence[WeighedParts]) -> PartTotals:
    return PartTotals(
        position_count=len(parts),
        weighed_count=sum(not math.isnan(one.valve + one.retainer + one.locks) for one in parts),
        valve=_sum(one.valve for one in parts),
        retainer=_sum(one.retainer for one in parts),
        locks=_sum(one.locks for one in parts),
        lash_cap=_sum(one.lash_cap for one in parts),
        pushrod=_sum(one.pushrod for one in parts),
        lifter=_sum(one.lifter for one in parts),
        springs=_sum(one.springs + one.dampers for one in parts),
    )


def _sum(masses: Iterable[float]) -> float:
    return sum(mass for mass in masses if not math.isnan(mass))
