"""Changed valves: what other parts do to the readings of one valve."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from headbench.calc.head.assembly import ValveReadings, ValveSheet
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_RETAINER_TO_SEAL, READ_BACK_HEIGHT
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import at_least
from headbench.calc.ways_out.parts import AS_FITTED

_NAN: Final = math.nan


class ValveThere(NamedTuple):
    """One valve as it is; NaN is a reading not taken.

    readings : ValveReadings, as the head's sheet takes them
    sheet : ValveSheet, what they come to
    locator : float, thickness of the locator that is counted in its height [m]
    tip_above_retainer : float [m]
    retainer_to_rocker : float [m]
    pocket_floor : float, metal under its spring pocket [m]
    reshim : bool, whether it is assembled and comes apart whatever parts it gets, because it misses something [-]
    """

    readings: ValveReadings
    sheet: ValveSheet
    locator: float = 0.0
    tip_above_retainer: float = _NAN
    retainer_to_rocker: float = _NAN
    pocket_floor: float = _NAN
    reshim: bool = False

    @property
    def read_back_off(self) -> float:
        """How much taller it was read with its shims in than figured, past what is told; 0 where they agree [m]."""
        height = self.sheet.height
        off = height.installed_height - height.figured_height
        return off if self.readings.bare_proven and abs(off) > READ_BACK_HEIGHT.values[0] + GRID else 0.0

    @property
    def height_sure(self) -> bool:
        """Whether its height with no shim is known well enough to choose parts by, and to cut metal [-]."""
        return self.readings.height_proven and self.read_back_off == 0.0

    @property
    def free_height(self) -> float:
        """Height with no shim: where it was read with shims in, that and the shims [m]."""
        height = self.sheet.height
        if math.isnan(self.readings.height_with_shims):
            return height.bare_height
        with_shims = height.installed_height + height.shim_stack
        return height.bare_height if math.isnan(with_shims) else with_shims


class GroupLimits(NamedTuple):
    """What the valves of one kind are held against, beside the limits of the head's sheet.

    tip_minimum : float, least height of the tip over the retainer [m]
    rocker_minimum : float, least gap from retainer to rocker; NaN where no rocker stands over it [m]
    floor_minimum : float, least metal under a pocket [m]
    tip_asked, rocker_asked : bool, whether tip and gap are judged even where no part raises the retainer [-]
    """

    tip_minimum: float
    rocker_minimum: float
    floor_minimum: float
    tip_asked: bool
    rocker_asked: bool = False


class Changed(NamedTuple):
    """One valve with other parts.

    readings : ValveReadings, as they would be
    locks : int, place of its locks in the catalogue, AS_FITTED where they stay [-]
    raised : float, how much higher its retainer carries the spring [m]
    tip_above_retainer, retainer_to_rocker : float, NaN not known [m]
    pocket_depth : float, how much deeper its pocket is cut [m]
    floor_left : float, metal left under a pocket that is cut; NaN not known, or not cut [m]
    """

    readings: ValveReadings
    locks: int
    raised: float
    tip_above_retainer: float
    retainer_to_rocker: float
    pocket_depth: float
    floor_left: float

    def tip_verdict(self, limits: GroupLimits) -> int | None:
        """Verdict on the tip over the retainer.

        Parameters
        ----------
        limits : GroupLimits
            What it is held against [-]

        Returns
        -------
        Verdict code or None
            None where it was not read, and nothing asks for it [-]

        >>> valve = Changed(None, AS_FITTED, 0.001, _NAN, _NAN, 0.0, _NAN)
        >>> limits = GroupLimits(0.0015, _NAN, 0.004, tip_asked=False)
        >>> valve.tip_verdict(limits), valve._replace(raised=0.0).tip_verdict(limits)
        (2, None)
        """
        if math.isnan(self.tip_above_retainer) and not (limits.tip_asked or self.raised > GRID):
            return None
        return at_least(self.tip_above_retainer, limits.tip_minimum)

    def rocker_verdict(self, limits: GroupLimits) -> int | None:
        """Verdict on the gap from retainer to rocker.

        Parameters
        ----------
        limits : GroupLimits
            What it is held against [-]

        Returns
        -------
        Verdict code or None
            None where no rocker stands over it, or where it was not read and nothing asks for it [-]

        >>> valve = Changed(None, AS_FITTED, 0.001, _NAN, _NAN, 0.0, _NAN)
        >>> limits = GroupLimits(0.0015, 0.001, 0.004, tip_asked=False)
        >>> valve.rocker_verdict(limits), valve._replace(raised=0.0).rocker_verdict(limits)
        (2, None)
        """
        unread = math.isnan(self.retainer_to_rocker)
        if math.isnan(limits.rocker_minimum) or (unread and not (limits.rocker_asked or self.raised > GRID)):
            return None
        return clearance_verdict(self.retainer_to_rocker, limits.rocker_minimum)

    def floor_verdict(self, limits: GroupLimits) -> int | None:
        """Verdict on the metal left under a pocket.

        Parameters
        ----------
        limits : GroupLimits
            What it is held against [-]

        Returns
        -------
        Verdict code or None
            None where the pocket is not cut [-]

        >>> valve = Changed(None, AS_FITTED, 0.0, _NAN, _NAN, 0.001, 0.0045)
        >>> valve.floor_verdict(GroupLimits(0.0015, _NAN, 0.004, tip_asked=False))
        0
        """
        return at_least(self.floor_left, limits.floor_minimum) if self.pocket_depth > 0.0 else None


def change_valve(
    valve: ValveThere, raised: float, longer: float, thinner: float = 0.0, pocket_depth: float = 0.0
) -> Changed:
    """Readings with other parts: H_0 + o + l + k + q, seal + o + l, tip above retainer - o, retainer to rocker - o.

    Parameters
    ----------
    valve : ValveThere
        The valve as it is [-]
    raised : float
        Offsets o of locks and retainer together [m]
    longer : float
        Length change l of the valve [m]
    thinner : float
        How much thinner its locator is, k; NaN where nobody knows how thick the fitted one is [m]
    pocket_depth : float
        How much deeper its pocket is cut, q [m]

    Returns
    -------
    Changed
        The readings themselves where nothing changes; else what was read after assembly counts no more, and shims are
        chosen anew [-]

    Notes
    -----
    Underside and top of a retainer are taken to move with its spring step, and a longer valve carries tip, locks and
    rocker alike. Loads that the head contradicted make nothing sure, nor do heights with shims and without that do not
    agree. Own derivation.

    >>> from headbench.calc.head.assembly import Limits, Targets, assemble
    >>> from headbench.calc.heights.installed_height import ShimsAtHand
    >>> from headbench.calc.judging.load_target import LoadTarget
    >>> from headbench.calc.masses.valve_mass import WeighedParts
    >>> from headbench.calc.springs.spring_set import SpringSet
    >>> unread, mm, at_hand = math.nan, 1e-3, ShimsAtHand([0.5e-3], 1.5e-3)
    >>> readings = ValveReadings(
    ...     44.0 * mm, unread, True, unread, 12.5 * mm, 14.5 * mm, SpringSet((), 0.0), WeighedParts(*[unread] * 14),
    ...     Targets(44.5 * mm, LoadTarget(), LoadTarget()),
    ...     Limits(0.25 * mm, 1.5 * mm, 1.27 * mm, off_target_rejects=False),
    ... )
    >>> valve = ValveThere(readings, *assemble([readings], at_hand).valves, tip_above_retainer=4.0 * mm)
    >>> found = change_valve(valve, 1.25 * mm, 0.0)
    >>> [round(one / mm, 9) for one in (found.readings.bare_height, found.readings.retainer_to_seal)]
    [45.25, 15.75]
    >>> round(found.tip_above_retainer / mm, 9)
    2.75
    """
    readings = valve.readings
    if valve.reshim or not raised == longer == thinner == pocket_depth == 0.0:
        distance = if_possible(readings.retainer_to_seal, POSSIBLE_RETAINER_TO_SEAL)
        readings = readings._replace(
            bare_height=valve.free_height + (raised + longer + thinner + pocket_depth),
            height_with_shims=_NAN,
            seat_load_with_shims=_NAN,
            fitted_stack=_NAN,
            height_proven=valve.height_sure and not valve.sheet.contradicted,
            retainer_to_seal=distance + raised + longer,
        )
    return Changed(
        readings=readings,
        locks=AS_FITTED,
        raised=raised,
        tip_above_retainer=valve.tip_above_retainer - raised,
        retainer_to_rocker=valve.retainer_to_rocker - raised,
        pocket_depth=pocket_depth,
        floor_left=valve.pocket_floor - pocket_depth if pocket_depth > 0.0 else _NAN,
    )
