"""Spring set: what stands on one valve, one spring or several nested, each at its own height."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.motion import SPRING_SHARE, shared_by_mass
from headbench.calc.springs.one_curve import LoadCurve

_NAN: Final = float("nan")


class OneSpring(NamedTuple):
    """One spring of a set, as far as it was read; NaN where it was not.

    curve : LoadCurve, DimensionedSpring, or None where its load is not known [-]
    has_own_load : bool, False where the curve of another spring includes its load [-]
    seat_rise : float, how much shorter it stands than the outer one [m]
    coil_bind_height : float, where its coils touch, as read [m]
    bind_doubtful : bool, whether that was read again and the readings disagree [-]
    mass : float, the whole spring [kg]
    retainer_coils, seat_coils : float, dead coils at either end, part of mass [kg]
    moving_share, share_within : float, part of the active coils that counts as moving, and how far off it may be [-]
    """

    curve: LoadCurve | DimensionedSpring | None
    has_own_load: bool
    seat_rise: float
    coil_bind_height: float
    bind_doubtful: bool
    mass: float
    retainer_coils: float
    seat_coils: float
    moving_share: float
    share_within: float

    @property
    def active_mass(self) -> float:
        """Mass of its active coils [kg]."""
        return self.mass - self.retainer_coils - self.seat_coils


class SpringSet:
    """All springs under one retainer, the outer one first.

    each : tuple of OneSpring [-]
    damper_mass : float, 0 where there is none [kg]
    own : list of (curve, seat rise), of those whose load no other curve includes [-], [m]
    tallest_bind : float, height of the outer spring at which the first of them is known to bind, as read; NaN where
        no coil-bind height was read [m]
    tightest : int, which of them that is, 0 the outer one [-]
    binds_read : bool, whether the coil-bind heights of all were read and none is doubtful [-]
    is_known : bool, whether the load of every one of them is known [-]
    """

    __slots__ = ("_curves", "binds_read", "damper_mass", "each", "is_known", "own", "tallest_bind", "tightest")

    def __init__(self, each: tuple[OneSpring, ...], damper_mass: float) -> None:
        self.each = each
        self.damper_mass = damper_mass
        self.own = [(one.curve, one.seat_rise) for one in each if one.has_own_load]
        self._curves = [(curve, rise) for curve, rise in self.own if isinstance(curve, LoadCurve)]
        self.is_known = all(curve is not None for curve, _ in self.own)
        binds = [one.coil_bind_height + one.seat_rise for one in each]
        known = [bind for bind in binds if bind == bind]  # noqa: PLR0124 - NaN is not itself
        self.tallest_bind = max(known, default=_NAN)
        self.tightest = binds.index(self.tallest_bind) if known else 0
        self.binds_read = len(known) == len(each) and not any(one.bind_doubtful for one in each)

    def load_at(self, height: float) -> float:
        """Load of all springs, each at its own height, F = sum F_i(H - step_i).

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        float
            Load on the retainer; NaN where the load of one of them is not known [N]

        Notes
        -----
        Springs side by side under one retainer carry the sum of their loads (V. B. Bhandari, Design of Machine
        Elements, 3rd ed. (2010), 10.13, concentric springs; from memory).

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> pair = spring_set(rated_curve(0.040, 400.0, 40e3), (rated_curve(0.038, 100.0, 10e3), 0.002))
        >>> round(pair.load_at(0.040), 9)
        500.0
        """
        total = 0.0
        for curve, rise in self.own:
            total += _load(curve, height - rise)
        return total

    def loads_and_rates(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Load and rate of all springs at several heights, F = sum F_i(H - step_i), k = sum k_i(H - step_i).

        Parameters
        ----------
        heights : array (P,)
            Heights of the outer spring [m]

        Returns
        -------
        load : array (P,)
            Load on the retainer: see `load_at` [N]
        rate : array (P,)
            Rate at the retainer; NaN where that of one of them is not known [N/m]

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> pair = spring_set(rated_curve(0.040, 400.0, 40e3), (rated_curve(0.038, 100.0, 10e3), 0.002))
        >>> [each.round(9).tolist() for each in pair.loads_and_rates(np.array([0.040]))]
        [[500.0], [50000.0]]
        """
        load, rate = np.zeros(len(heights)), np.zeros(len(heights))
        for curve, rise in self.own:
            own_load, own_rate = _response(curve, heights - rise)
            load, rate = load + own_load, rate + own_rate
        return load, rate

    def any_loose(self, height: float) -> bool:
        """Whether one of them is taller than free and pushes nothing.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        bool
            False where that is not known [-]

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> one = spring_set(rated_curve(0.040, 500.0, 50e3))
        >>> one.any_loose(0.040), one.any_loose(0.051)
        (False, True)
        """
        return any(_load(curve, height - rise) <= 0.0 for curve, rise in self.own)

    def beyond_readings(self, height: float) -> float:
        """How far they stand outside the heights they were read at.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        float
            The largest distance of any of them; 0 inside, NaN where none has readings [m]

        >>> from headbench.calc.springs.readings import curve_through
        >>> round(spring_set(curve_through([0.040, 0.030], [500.0, 1000.0])).beyond_readings(0.0415), 9)
        0.0015
        """
        farthest = _NAN
        for curve, rise in self._curves:
            beyond = curve.beyond_readings(height - rise)
            if beyond >= 0.0 and not beyond <= farthest:
                farthest = beyond
        return farthest

    def works_outside_readings(self, height: float) -> bool:
        """Whether one of them works outside the heights it was read at by more than a little.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        bool
            False where none has readings: what is a little stands in `rules.NEAR_READINGS` [-]

        >>> from headbench.calc.springs.readings import curve_through
        >>> one = spring_set(curve_through([0.040, 0.030], [500.0, 1000.0]))
        >>> one.works_outside_readings(0.0402), one.works_outside_readings(0.0415)
        (False, True)
        """
        return any(
            curve.beyond_readings(height - rise) > 0.0 and not curve.is_near_readings(height - rise)
            for curve, rise in self._curves
        )

    def is_proven(self, height: float) -> bool:
        """Whether the load of every one of them was read on a tester at its height, or near enough.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        bool
            False where one is known by its rating or its dimensions only, or far outside its readings [-]

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> spring_set(rated_curve(0.040, 500.0, 50e3)).is_proven(0.040)
        False
        """
        return len(self._curves) == len(self.own) and all(
            curve.is_proven(height - rise) for curve, rise in self._curves
        )

    @property
    def is_provable(self) -> bool:
        """Whether there are heights at which the load of every one of them was read on a tester, beyond doubt."""
        return len(self._curves) == len(self.own) and all(
            not (curve.in_doubt or math.isnan(curve.lowest_read)) for curve, _ in self._curves
        )

    @property
    def proven_between(self) -> tuple[float, float]:
        """Between which heights of the outer spring all of them are proven; only of what is provable [m]."""
        ends = [(low + rise, high + rise) for curve, rise in self._curves for low, high in [curve.proven_between]]
        return max((low for low, _ in ends), default=_NAN), min((high for _, high in ends), default=_NAN)

    def beyond_proof(self, height: float) -> int:
        """On which side of the heights that `is_proven` takes a height lies.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        int
            1 where one of them stands taller than it was read at, -1 where one stands shorter, 0 where each is
            proven; only of what is provable [-]

        >>> from headbench.calc.springs.readings import curve_through
        >>> one = spring_set(curve_through([0.030, 0.040], [1000.0, 500.0]))
        >>> [one.beyond_proof(height) for height in (0.025, 0.035, 0.045)]
        [-1, 0, 1]
        """
        for curve, rise in self._curves:
            own = height - rise
            if not curve.is_proven(own):
                return 1 if own > curve.highest_read else -1
        return 0

    @property
    def mass(self) -> float:
        """All springs, dampers not; NaN where one was not weighed [kg]."""
        return sum(one.mass for one in self.each)

    @property
    def moving_share(self) -> float:
        """Part of their active coils that counts as moving; NaN where one was not weighed [-]."""
        return shared_by_mass([one.moving_share for one in self.each], [one.active_mass for one in self.each])


def _load(curve: LoadCurve | DimensionedSpring | None, height: float) -> float:
    if isinstance(curve, LoadCurve):
        return curve.load_at(height)
    return _NAN if curve is None else float(curve.load_at(np.array([height]))[0])


def _response(curve: LoadCurve | DimensionedSpring | None, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
    if isinstance(curve, DimensionedSpring):
        return curve.loads_and_rates(heights)
    if curve is None:
        return np.full(len(heights), np.nan), np.full(len(heights), np.nan)
    each = heights.tolist()
    return np.array([curve.load_at(at) for at in each]), np.array([curve.rate_at(at) for at in each])


def bind_height(springs: SpringSet) -> float:
    """Height of the outer spring at which the first of a set binds.

    Parameters
    ----------
    springs : SpringSet
        The springs of one valve [-]

    Returns
    -------
    float
        Of a height that was read and one by dimensions the taller counts: under it one of them knows no load; NaN
        where none is known [m]

    >>> bind_height(spring_set(None))
    nan
    """
    heights = [
        height + one.seat_rise
        for one in springs.each
        for height in (one.coil_bind_height, by_dimensions(one))
        if height > 0.0
    ]
    return max(heights, default=_NAN)


def known_bind_height(springs: SpringSet) -> float:
    """Height of the outer spring at which coils touch: as they were read, by dimensions only what was not read.

    Parameters
    ----------
    springs : SpringSet
        The springs of one valve [-]

    Returns
    -------
    float
        NaN where none is known [m]

    >>> known_bind_height(spring_set(None))
    nan
    """
    heights = [
        one.seat_rise + (by_dimensions(one) if one.coil_bind_height != one.coil_bind_height else one.coil_bind_height)
        for one in springs.each
    ]
    return max((height for height in heights if height > 0.0), default=_NAN)


def by_dimensions(one: OneSpring) -> float:
    """Height at which the coils of a spring touch by its dimensions.

    Parameters
    ----------
    one : OneSpring
        The spring [-]

    Returns
    -------
    float
        NaN where it is not known by them [m]

    >>> by_dimensions(of_load_alone(None))
    nan
    """
    return one.curve.coil_bind_height if isinstance(one.curve, DimensionedSpring) and one.has_own_load else _NAN


def spring_set(*curves: LoadCurve | tuple[LoadCurve | None, float] | None) -> SpringSet:
    """Springs of which only the loads are known.

    Parameters
    ----------
    curves : LoadCurve or None, or such a one with its seat rise
        The outer spring first [-], [m]

    Returns
    -------
    SpringSet

    >>> spring_set(None).load_at(0.04)
    nan
    """
    pairs = [curve if isinstance(curve, tuple) else (curve, 0.0) for curve in curves]
    return SpringSet(tuple(of_load_alone(curve, rise) for curve, rise in pairs), 0.0)


def of_load_alone(curve: LoadCurve | None, seat_rise: float = 0.0) -> OneSpring:
    """A spring of which at most the load is known.

    Parameters
    ----------
    curve : LoadCurve or None
        Its curve; None where that is not known either [-]
    seat_rise : float
        How much shorter it stands than the outer one [m]

    Returns
    -------
    OneSpring

    >>> of_load_alone(None).mass
    nan
    """
    return OneSpring(
        curve=curve,
        has_own_load=True,
        seat_rise=seat_rise,
        coil_bind_height=_NAN,
        bind_doubtful=False,
        mass=_NAN,
        retainer_coils=_NAN,
        seat_coils=_NAN,
        moving_share=SPRING_SHARE,
        share_within=0.0,
    )
