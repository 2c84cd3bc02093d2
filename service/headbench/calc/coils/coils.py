"""Dimensioned springs: load, rate and height of a spring from its wire and coils, whatever its shape.

Every piece of wire twists until the gap to the next coil is used up; from then on it is closed. The height
under a load is exact: see `coil_stretches`. The load at a height is its inverse.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.coils.shapes import CoilProfile, stretch_gaps
from headbench.calc.coils.stretches import Stretches, stretches_from
from headbench.calc.coils.wire import EndType, Wire, coil_stiffness, dead_coils, end_height

_ROUNDING: Final = 1e-12
"""Heights and loads that differ by less than this share are the same, written another way."""

_FINEST: Final = 4.0 * float(np.finfo(np.float64).eps)
"""Share of the travel below which a deflection is met."""

_FINE: Final = 1e-9
"""Share of a load below which a step is the last: what it leaves goes with its square."""

_MOST_STEPS: Final = 60
"""Steps after which an iteration ends; two or three are usual."""


@dataclass(frozen=True, slots=True)
class DimensionedSpring:
    """A spring known by its dimensions.

    free_height : float, height without load [m]
    coil_bind_height : float, height at which all coils touch [m]
    load_at_coil_bind : float, load that just gets it there [N]
    coil_closing_height : array (K,), heights where coils close at once, or begin or end closing bit by bit, falling [m]
    coil_closing_load : array (K,), loads there, rising; the coil-bind height is not among them [N]
    active_coils : float, coils that carry torsion [-]
    active_mass : float, mass of those [kg]
    end_mass : array (2,), mass of the dead coils at the first and at the last end [kg]
    total_mass : float, mass of the whole spring [kg]
    profile : CoilProfile, the active coils from the spring seat to the retainer [-]
    stretches : Stretches, the active coils, as they close [-]
    knot_load : array (N,), loads between which the response is smooth, from 0 to coil bind [N]
    knot_deflection : array (N,), deflection there [m]
    knot_straight : array (N,), True where the response is a straight line down to the knot before [-]
    """

    free_height: float
    coil_bind_height: float
    load_at_coil_bind: float
    coil_closing_height: FloatArray
    coil_closing_load: FloatArray
    active_coils: float
    active_mass: float
    end_mass: FloatArray
    total_mass: float
    profile: CoilProfile
    stretches: Stretches
    knot_load: FloatArray
    knot_deflection: FloatArray
    knot_straight: BoolArray

    def load_at(self, height: FloatArray) -> FloatArray:
        """Load at a height.

        Parameters
        ----------
        height : array (P,)
            Heights of the spring [m]

        Returns
        -------
        array (P,)
            Load; 0 above the free height, NaN below the coil-bind height [N]

        >>> from headbench.calc.coils.shapes import cylinder
        >>> from headbench.calc.coils.wire import round_wire
        >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
        >>> spring.load_at(np.array([0.060, 0.047])).round(6).tolist()
        [0.0, 189.62963]
        """
        rounding = _ROUNDING * self.free_height
        load = self._load_for(np.clip(self.free_height - height, 0.0, self.knot_deflection[-1]))
        load = np.where(height <= self.coil_bind_height + rounding, self.load_at_coil_bind, load)
        return np.where(height < self.coil_bind_height - rounding, np.nan, load)

    def rate_at(self, height: FloatArray) -> FloatArray:
        """Rate k = -dF/dH at a height.

        Parameters
        ----------
        height : array (P,)
            Heights of the spring [m]

        Returns
        -------
        array (P,)
            Rate; where coils close, the one above that height; 0 above the free height; NaN below the
            coil-bind height, and at it where the last coil closes bit by bit, so that the rate grows without
            end [N/m]

        >>> from headbench.calc.coils.shapes import cylinder
        >>> from headbench.calc.coils.wire import round_wire
        >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
        >>> spring.rate_at(np.array([0.060, 0.047])).round(6).tolist()
        [0.0, 18962.962963]
        """
        return self.loads_and_rates(height)[1]

    def loads_and_rates(self, height: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Load and rate at a height, which together take little more than the load: see `load_at` and `rate_at`.

        Parameters
        ----------
        height : array (P,)
            Heights of the spring [m]

        Returns
        -------
        load : array (P,)
            Load [N]
        rate : array (P,)
            Rate [N/m]

        >>> from headbench.calc.coils.shapes import cylinder
        >>> from headbench.calc.coils.wire import round_wire
        >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
        >>> [each.round(6).tolist() for each in spring.loads_and_rates(np.array([0.047]))]
        [[189.62963], [18962.962963]]
        """
        load = self.load_at(height)
        compliance = self.stretches.under(load).compliance
        known = (compliance > 0.0) & ~np.isnan(load)
        rate: FloatArray = np.divide(1.0, compliance, out=np.full_like(compliance, np.nan), where=known)
        return load, np.where(height > self.free_height * (1.0 + _ROUNDING), 0.0, rate)

    def height_for(self, load: FloatArray) -> FloatArray:
        """Height at which the spring pushes a load: the inverse of `load_at`.

        Parameters
        ----------
        load : array (P,)
            Loads, from 0 to the load at coil bind [N]

        Returns
        -------
        array (P,)
            Height; NaN for any other load [m]

        >>> from headbench.calc.coils.shapes import cylinder
        >>> from headbench.calc.coils.wire import round_wire
        >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
        >>> spring.height_for(np.array([189.62962963, 900.0])).round(9).tolist()
        [0.047, nan]
        """
        possible = (load >= 0.0) & (load <= self.load_at_coil_bind * (1.0 + _ROUNDING))
        deflection = self.stretches.under(np.where(possible, load, np.nan)).deflection
        return np.asarray(np.maximum(self.free_height - deflection, self.coil_bind_height), dtype=np.float64)

    def torsion_at(self, height: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the wire of each stretch is twisted most, and by what load, at a height.

        Parameters
        ----------
        height : array (P,)
            Heights of the spring [m]

        Returns
        -------
        radius : array (P, C)
            Mean radius at C places along the wire [m]
        load : array (P, C)
            Load that twists the wire there: the spring's, or the lesser one at which the coil closed [N]

        Notes
        -----
        The places are both ends of every stretch and, where it is half closed, the point between. On a
        stretch that tapers while its pitch changes, torsion can be a little larger in between.

        >>> from headbench.calc.coils.shapes import cone
        >>> from headbench.calc.coils.wire import round_wire
        >>> spring = dimensioned_spring(cone(0.030, 0.020, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
        >>> radius, load = spring.torsion_at(np.array([0.047]))
        >>> radius.round(6).tolist()
        [[0.015, 0.01, 0.015]]
        """
        load = self.load_at(height)
        parts = self.stretches
        between = parts.radius + parts.taper * parts.closed_share(load)
        starts, ends = (np.minimum(load[:, np.newaxis], parts.closing[:, side]) for side in (0, 1))
        radius = [np.broadcast_to(parts.radius, between.shape), np.broadcast_to(parts.end_radius, between.shape)]
        return np.concatenate([*radius, between], axis=1), np.concatenate([starts, ends, ends], axis=1)

    def _load_for(self, deflection: FloatArray) -> FloatArray:
        """Load for a deflection: read off where the response is straight, else iterated between two knots."""
        last = len(self.knot_load) - 1
        after = np.searchsorted(self.knot_deflection, deflection).clip(min(1, last), last)
        before = np.maximum(after - 1, 0)
        low, high = self.knot_load[before], self.knot_load[after]
        travel = self.knot_deflection[after] - self.knot_deflection[before]
        share: FloatArray = np.divide(
            deflection - self.knot_deflection[before], travel, out=np.zeros_like(travel), where=travel != 0.0
        )
        load: FloatArray = low + (high - low) * share
        bent = np.flatnonzero(~self.knot_straight[after])
        if len(bent) > 0:
            load[bent] = self._iterated(deflection[bent], load[bent], low[bent], high[bent])
        return load

    def _iterated(self, deflection: FloatArray, load: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        left = np.arange(len(load))
        for _ in range(_MOST_STEPS):
            at = load[left]
            here = self.stretches.under(at)
            short = deflection[left] - here.deflection
            low, high = np.where(short > 0.0, at, low), np.where(short < 0.0, at, high)
            # a parabola through value, slope and bend: next to the coil-bind height a straight line would crawl
            under_root = np.maximum(here.compliance**2 + 2.0 * here.bend * short, 0.0)
            divisor = here.compliance + np.sqrt(under_root)
            step = np.divide(2.0 * short, divisor, out=np.zeros_like(divisor), where=divisor > 0.0)
            wanted = np.where((at + step >= low) & (at + step <= high), at + step, 0.5 * (low + high))
            settled = np.abs(short) <= _FINEST * self.knot_deflection[-1]
            moved = np.where(settled, 0.0, wanted - at)
            load[left] = at + moved
            moves = np.abs(moved) > _FINE * load[left]
            if not moves.any():
                break
            left, low, high = left[moves], low[moves], high[moves]
        return load


def dimensioned_spring(
    profile: CoilProfile,
    wire: Wire,
    ends: EndType,
    shear_modulus: float,
    density: float,
    *,
    telescoping: bool = False,
) -> DimensionedSpring:
    """The spring that wire, coils and ends make; a turn deflects 2 pi F R^3/(G J), 64 F R^3/(G d^4) round.

    Parameters
    ----------
    profile : CoilProfile
        The active coils: see `spring_shapes` [-]
    wire : Wire
        Round or ovate wire [m]
    ends : EndType
        How the ends are finished [-]
    shear_modulus : float
        Shear modulus of the wire G; sources differ, so none is assumed [Pa]
    density : float
        Density of the wire [kg/m3]
    telescoping : bool
        Whether a coil may slip past the next, where the taper lets it [-]

    Returns
    -------
    DimensionedSpring
        Heights and loads are NaN where dimensions are, or where coils overlap in the free spring: see
        `spring_shapes.find_coil_faults` [-]

    Notes
    -----
    Torsion alone, at a small pitch angle (published). The ends are dead from the start; real ones roll on
    and off. On the few valve springs compared (from memory) a load figured from the free height came out
    4 to 12 % low between working heights; another spring may do otherwise, so test it. The wire is
    2 pi R long per turn; what is ground off the ends is not deducted from the mass.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eqs. 10-8 and 10-9,
    Table 10-1; A. M. Wahl, Mechanical Springs, 2nd ed. (1963) (conical springs; from memory).

    >>> from headbench.calc.coils.shapes import cylinder
    >>> from headbench.calc.coils.wire import round_wire
    >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> round(spring.free_height, 9), round(spring.coil_bind_height, 9), round(spring.load_at_coil_bind, 6)
    (0.057, 0.032, 474.074074)
    """
    turns = np.diff(profile.turn)
    radius = np.stack([profile.radius[:-1], profile.radius[1:]], axis=1)
    gaps = stretch_gaps(profile, wire, telescoping=telescoping)
    if (turns < 0.0).any() or (gaps[turns > 0.0] < -_ROUNDING * wire.axial).any():
        gaps = np.full_like(gaps, np.nan)
    mean_pitch = (profile.pitch[:-1] + profile.pitch[1:]) / 2.0
    coil_bind_height = float((turns * (mean_pitch - gaps.mean(axis=1))).sum()) + end_height(ends, wire)
    gaps = np.maximum(gaps, 0.0)
    travel = float((turns * gaps.mean(axis=1)).sum())
    parts = stretches_from(turns, radius, gaps, coil_stiffness(wire, shear_modulus))
    knots = np.unique(np.concatenate([[0.0], parts.closing.ravel()]))
    deflection = parts.under(knots).deflection
    deflection[-1] = travel
    free_height = coil_bind_height + travel
    straight, closings = _shape_of_knots(parts, knots)
    line_density = density * np.pi * wire.radial * wire.axial / 4.0
    active_mass = float(line_density * np.pi * (turns * radius.sum(axis=1)).sum())
    end_mass = line_density * np.pi * dead_coils(ends) * profile.radius[[0, -1]]
    return DimensionedSpring(
        free_height=free_height,
        coil_bind_height=coil_bind_height,
        load_at_coil_bind=float(knots[-1]),
        coil_closing_height=free_height - deflection[closings],
        coil_closing_load=knots[closings],
        active_coils=float(profile.turn[-1]),
        active_mass=active_mass,
        end_mass=end_mass,
        total_mass=active_mass + float(end_mass.sum()),
        profile=profile,
        stretches=parts,
        knot_load=knots,
        knot_deflection=deflection,
        knot_straight=straight,
    )


def _shape_of_knots(parts: Stretches, knots: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Knots with a straight response before them, and closings: where the rate jumps, or closing begins or ends."""
    start, end = parts.closing.T
    column = knots[:, np.newaxis]
    bent = ((column > start) & (column <= end)).any(axis=1)
    jumps = (column == end[start == end]).any(axis=1)
    closings = jumps & (knots < knots[-1])
    closings[:-1] |= bent[1:] != bent[:-1]
    return ~bent, closings & (knots > 0.0)
