"""Fit: the springs and dampers of one valve in each other, on locator and retainer, in the pocket and over the seal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from headbench.calc.spring_fit.growth import growth_ends_free, growth_ends_held

_NAN: Final = math.nan


class Coil(NamedTuple):
    """One spring or damper of a nest; NaN is a reading not taken.

    outside, inside : float, diameters, spring free [m]
    wire : float, wire across the coil's radius; a damper's flat wire likewise [m]
    pitch : float, of the working coils, spring free [m]
    is_damper : bool, whether it is a flat-wire damper, which is taken not to grow [-]
    ends_held : bool, whether its ends are kept from turning [-]
    """

    outside: float
    inside: float
    wire: float
    pitch: float
    is_damper: bool = False
    ends_held: bool = False

    @property
    def outer_diameter(self) -> float:
        """Outside, as measured, else inside and twice the wire [m]."""
        return self.inside + 2.0 * self.wire if math.isnan(self.outside) else self.outside

    @property
    def inner_diameter(self) -> float:
        """Inside, as measured, else outside less twice the wire [m]."""
        return self.outside - 2.0 * self.wire if math.isnan(self.inside) else self.inside

    @property
    def growth(self) -> float:
        """How much wider it is once its coils touch; 0 for a damper [m]."""
        if self.is_damper:
            return 0.0
        mean = 0.5 * (self.outer_diameter + self.inner_diameter)
        grown = growth_ends_held if self.ends_held else growth_ends_free
        return grown(mean, self.pitch, self.wire)


class Gap(NamedTuple):
    """What is between two parts; NaN where one was not measured.

    free : float, radial gap with the springs free, negative where they press on each other [m]
    closed : float, the same with the coils closed; as free where no working coil is concerned [m]
    """

    free: float
    closed: float

    @property
    def least(self) -> float:
        """The smaller of the two; NaN while one is not known [m]."""
        return _NAN if math.isnan(self.free + self.closed) else min(self.free, self.closed)

    @property
    def known_least(self) -> float:
        """The smaller of what is known: it can only become less [m]."""
        return min((one for one in self if not math.isnan(one)), default=_NAN)

    @classmethod
    def still(cls, free: float) -> Gap:
        """A gap that coils do not change.

        Parameters
        ----------
        free : float
            Radial gap [m]

        Returns
        -------
        Gap

        >>> Gap.still(0.001)
        Gap(free=0.001, closed=0.001)
        """
        return cls(free, free)


def radial_gap(around: float, within: float) -> float:
    """Radial gap of one round part in another, g = (D - d)/2.

    Parameters
    ----------
    around : float
        Inside diameter of the outer part, D [m]
    within : float
        Outside diameter of the inner part, d [m]

    Returns
    -------
    float
        Gap all around where they stand centered; negative where they press on each other [m]

    >>> round(radial_gap(0.030, 0.0294), 9)
    0.0003
    """
    return 0.5 * (around - within)


def gaps_between(nest: Sequence[Coil]) -> list[Gap]:
    """Gaps from coil to coil, from the outside in, g = (D_i - d_o)/2, closed by half of what they grow apart.

    Parameters
    ----------
    nest : sequence (N,)
        Springs and dampers, the outer one first [-]

    Returns
    -------
    list (N - 1,) of Gap

    Notes
    -----
    An outer coil grows away from the one in it, which grows after it. Own derivation.

    >>> outer, inner = Coil(36e-3, 26e-3, 5e-3, 9e-3), Coil(25e-3, 19e-3, 3e-3, 6e-3)
    >>> [[round(one * 1e3, 2) for one in gap] for gap in gaps_between([outer, inner])]
    [[0.5, 0.52]]
    """
    gaps = []
    for around, within in zip(settled(nest), nest[1:], strict=False):
        free = radial_gap(around.inner_diameter, within.outer_diameter)
        gaps.append(Gap(free, free + 0.5 * (around.growth - within.growth)))
    return gaps


class Settled(NamedTuple):
    """The inside of a coil in its nest, whatever presses it there.

    inner_diameter : float, springs free [m]
    growth : float, how much wider it becomes as coils close [m]
    """

    inner_diameter: float
    growth: float


def settled(nest: Sequence[Coil]) -> list[Settled]:
    """The insides of springs and dampers in each other: a damper that presses is wound up to fit, and follows.

    Parameters
    ----------
    nest : sequence (N,)
        Springs and dampers, the outer one first [-]

    Returns
    -------
    list (N,) of Settled

    Notes
    -----
    A damper that is larger than the spring around it is smaller by the difference once it is in, outside and inside;
    it follows that spring as it grows, until it has its own size again. That spring, which is far stiffer, is taken
    not to give. Own derivation.

    >>> damper = Coil(26.3e-3, 23.3e-3, 1.5e-3, math.nan, is_damper=True)
    >>> round(settled([Coil(36e-3, 26e-3, 5e-3, 9e-3), damper])[1].inner_diameter * 1e3, 6)
    23.0
    """
    found: list[Settled] = []
    for coil in nest:
        inner, growth = coil.inner_diameter, coil.growth
        if coil.is_damper and found:
            around = found[-1]
            larger = coil.outer_diameter - around.inner_diameter
            # what was not measured stays NaN, here and below
            squeezed = max(larger, 0.0)
            inner -= squeezed
            growth = 0.0 if squeezed == 0.0 else around.growth + min(squeezed - around.growth, 0.0)
        found.append(Settled(inner, growth))
    return found


def gap_in_pocket(outer: Coil, pocket: float) -> Gap:
    """Gap of the outer spring in a bore or cup around it, g = (D_p - d_o)/2, less half of what it grows.

    Parameters
    ----------
    outer : Coil
        The outer spring [-]
    pocket : float
        Diameter of what is around it [m]

    Returns
    -------
    Gap

    >>> gap = gap_in_pocket(Coil(36e-3, 26e-3, 5e-3, 9e-3, ends_held=True), 36.4e-3)
    >>> [round(one * 1e3, 4) for one in gap]
    [0.2, 0.1543]
    """
    free = radial_gap(pocket, outer.outer_diameter)
    return Gap(free, free - 0.5 * outer.growth)
