"""Guide boss: guide top, pocket and diameters from drawing dimensions, and what comes of them."""

from __future__ import annotations

import math
from typing import NamedTuple


class BossParts(NamedTuple):
    """The parts of one kind of valve, by their drawings; NaN is a dimension nobody gave.

    installed_height : float, wanted [m]
    valve_lift : float [m]
    retainer_underside : float, above the retainer's spring step, negative where it hangs lower [m]
    seal_height : float, top of the seal over the guide's top [m]
    locator_thickness : float, under the spring; 0 without one [m]
    shim_wish : float, room for shims to leave [m]
    clearance : float, retainer to seal wanted at full lift [m]
    """

    installed_height: float
    valve_lift: float
    retainer_underside: float
    seal_height: float
    locator_thickness: float
    shim_wish: float
    clearance: float


class BossThere(NamedTuple):
    """The head at one valve, before any cut; NaN not known.

    bare_height : float, spring seat to the retainer's spring step, no shim and no locator; NaN: as the target asks [m]
    guide_height : float, guide's top above the spring seat [m]
    guide_in_seal : float, how much guide stands over the boss [m]
    pocket_floor : float, metal under the spring seat [m]
    """

    bare_height: float
    guide_height: float
    guide_in_seal: float
    pocket_floor: float


class BossPlan(NamedTuple):
    """What to cut at one valve, and what comes of it; NaN where something it hangs on is not known.

    pocket_depth : float, how much deeper to cut the pocket, 0 where it need not be [m]
    floor_left : float, metal left under it [m]
    shim_room : float, room for shims once it is cut; NaN without a bare height [m]
    guide_height_wanted : float, highest that the guide's top may stand above the spring seat as it is [m]
    guide_cut : float, what to take off its top, 0 where nothing [m]
    guide_height_after : float, above the spring seat as it is [m]
    guide_height_over_pocket : float, above the pocket once that is cut [m]
    guide_in_seal_after : float, how much guide still stands over the boss [m]
    retainer_to_seal : float, as it will be with the valve closed [m]
    clearance : float, as it will be at full lift [m]
    """

    pocket_depth: float
    floor_left: float
    shim_room: float
    guide_height_wanted: float
    guide_cut: float
    guide_height_after: float
    guide_height_over_pocket: float
    guide_in_seal_after: float
    retainer_to_seal: float
    clearance: float


def plan_boss(there: BossThere, parts: BossParts, *, bare_doubtful: bool = False) -> BossPlan:
    """Cuts from drawing dimensions: q = H + t + locator - H_0, x = g - (H_0 + u - s - L - clearance).

    Parameters
    ----------
    there : BossThere
        The head as it is [-]
    parts : BossParts
        What will be fitted [-]
    bare_doubtful : bool
        Whether a bare height was entered that can't be right, so that nothing stands in for it [-]

    Returns
    -------
    BossPlan

    Notes
    -----
    Everything is counted from the spring seat as it is before any cut, upward positive: the retainer's spring step
    stands at H_0 there, whatever shims come under the spring, so that retainer to seal, closed, is H_0 + u - (g + s).
    Where no bare height is known the spring is taken to stand at its height on locator and shims with no pocket cut:
    H_0 = H + t + locator. Nothing is added: a cut below 0 is none. Own derivation.

    >>> inch = 0.0254
    >>> parts = BossParts(*(one * inch for one in (1.900, 0.600, -0.150, 0.350, 0.060, 0.030, 0.050)))
    >>> found = plan_boss(BossThere(*(one * inch for one in (1.960, 0.900, 0.550, 0.300))), parts)
    >>> [round(one / inch, 6) for one in (found.pocket_depth, found.guide_height_wanted, found.guide_cut)]
    [0.03, 0.81, 0.09]
    >>> [round(one / inch, 6) for one in (found.guide_height_over_pocket, found.retainer_to_seal)]
    [0.84, 0.65]
    """
    stack = parts.installed_height + parts.locator_thickness
    known = not math.isnan(there.bare_height)
    bare = there.bare_height if known or bare_doubtful else stack + parts.shim_wish
    depth = _at_least_nothing(stack + parts.shim_wish - there.bare_height)
    wanted = bare + parts.retainer_underside - parts.seal_height - parts.valve_lift - parts.clearance
    cut = _at_least_nothing(there.guide_height - wanted)
    after = there.guide_height - cut
    closed = bare + parts.retainer_underside - (after + parts.seal_height)
    return BossPlan(
        pocket_depth=depth,
        floor_left=there.pocket_floor - depth,
        shim_room=there.bare_height + depth - stack,
        guide_height_wanted=wanted,
        guide_cut=cut,
        guide_height_after=after,
        guide_height_over_pocket=after + (depth if known else 0.0),
        guide_in_seal_after=there.guide_in_seal - cut,
        retainer_to_seal=closed,
        clearance=closed - parts.valve_lift,
    )


def _at_least_nothing(cut: float) -> float:
    return cut if math.isnan(cut) else max(cut, 0.0)


def seal_to_spring(spring_inside_diameter: float, *around: float) -> float:
    """Radial gap from the innermost spring to what stands inside it, (D_i - largest diameter)/2.

    Parameters
    ----------
    spring_inside_diameter : float
        Of the innermost spring, D_i [m]
    around : float
        Diameters inside it: the seal's, the boss's; NaN not known [m]

    Returns
    -------
    float
        NaN while the spring, or all of them, are not known [m]

    Notes
    -----
    Own derivation, everything on one axis.

    >>> round(seal_to_spring(0.0180, 0.0140, math.nan), 9)
    0.002
    """
    known = [one for one in around if not math.isnan(one)]
    return (spring_inside_diameter - max(known)) / 2.0 if known else math.nan
