"""Spring curves: one interface for springs known by readings, by a rating, or by their dimensions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.motion import surge_factor
from headbench.calc.springs.load_curves import LoadCurves


@dataclass(frozen=True, slots=True)
class SpringCurves:
    """Springs of every kind together: those of `fitted` first, then the dimensioned ones.

    fitted : LoadCurves, the springs known by readings or a rating [-]
    dimensioned : tuple of DimensionedSpring, those known by their dimensions [-]
    """

    fitted: LoadCurves
    dimensioned: tuple[DimensionedSpring, ...] = ()

    def load_at(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Load at a height.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Load; 0 above the free height, NaN below the coil-bind height of a dimensioned spring [N]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> rated = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> SpringCurves(rated).load_at(np.array([0]), np.array([0.030])).round(9).tolist()
        [1000.0]
        """
        load = self.fitted.load_at(self._fitted_only(which), height)
        for rows, spring in self._dimensioned_in(which):
            load[rows] = spring.load_at(height[rows])
        return load

    def rate_at(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Rate k = -dF/dH at a height.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Rate [N/m]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> rated = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> SpringCurves(rated).rate_at(np.array([0]), np.array([0.030])).tolist()
        [50000.0]
        """
        rate = self.fitted.rate_at(self._fitted_only(which), height)
        for rows, spring in self._dimensioned_in(which):
            rate[rows] = spring.rate_at(height[rows])
        return rate

    def height_for(self, which: IntArray, load: FloatArray) -> FloatArray:
        """Height at which a spring pushes a load: the inverse of `load_at`.

        Parameters
        ----------
        which : array (P,)
            The spring each load belongs to, negative for none [-]
        load : array (P,)
            Wanted loads, above 0 [N]

        Returns
        -------
        array (P,)
            Height; NaN where the spring cannot push that [m]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> rated = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> SpringCurves(rated).height_for(np.array([0]), np.array([1000.0])).round(9).tolist()
        [0.03]
        """
        height = self.fitted.height_for(self._fitted_only(which), load)
        for rows, spring in self._dimensioned_in(which):
            height[rows] = spring.height_for(load[rows])
        return height

    def beyond_readings(self, which: IntArray, height: FloatArray) -> FloatArray:
        """How far a height lies outside the heights a spring was read at.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Distance; 0 inside the readings, NaN where nothing was read [m]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.readings import curve_through
        >>> read = stacked([curve_through([0.030, 0.040], [1000.0, 500.0])])
        >>> SpringCurves(read).beyond_readings(np.array([0]), np.array([0.042])).round(9).tolist()
        [0.002]
        """
        return self.fitted.beyond_readings(self._fitted_only(which), height)

    def is_proven(self, which: IntArray, height: FloatArray) -> BoolArray:
        """Whether a spring was read on a tester at a height, or near enough to it.

        Parameters
        ----------
        which : array (P,)
            The springs, negative for none [-]
        height : array (P,)
            Their heights [m]

        Returns
        -------
        array (P,)
            False for a rating, for dimensions, for none, for readings that are in doubt, and farther outside
            the readings than `rules.PROVEN_BEYOND_PERCENT` of what they span [-]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.readings import curve_through
        >>> read = stacked([curve_through([0.030, 0.040], [1000.0, 500.0])])
        >>> SpringCurves(read).is_proven(np.array([0, 0]), np.array([0.041, 0.042])).tolist()
        [True, False]
        """
        return self.fitted.is_proven(self._fitted_only(which), height)

    def is_near_readings(self, which: IntArray, height: FloatArray) -> BoolArray:
        """Whether a spring works inside the heights it was read at, or too little outside for a word.

        Parameters
        ----------
        which : array (P,)
            The springs, negative for none [-]
        height : array (P,)
            Their heights [m]

        Returns
        -------
        array (P,)
            False where nothing was read [-]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.readings import curve_through
        >>> read = stacked([curve_through([0.030, 0.040], [1000.0, 500.0])])
        >>> SpringCurves(read).is_near_readings(np.array([0, 0]), np.array([0.0402, 0.0403])).tolist()
        [True, False]
        """
        return self.fitted.is_near_readings(self._fitted_only(which), height)

    def shortest(self, which: IntArray) -> FloatArray:
        """Height below which a spring has no load.

        Parameters
        ----------
        which : array (P,)
            The springs, negative for none [-]

        Returns
        -------
        array (P,)
            The coil-bind height of a dimensioned spring; 0 where it is not known [m]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> rated = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> SpringCurves(rated).shortest(np.array([0])).tolist()
        [0.0]
        """
        height = np.zeros(len(which))
        for rows, spring in self._dimensioned_in(which):
            height[rows] = spring.coil_bind_height
        return height

    def surge_factor(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Surge frequency over that of an even spring of the same rate and active mass: see `spring_motion`.

        Parameters
        ----------
        which : array (P,)
            The springs, negative for none [-]
        height : array (P,)
            Their heights [m]

        Returns
        -------
        array (P,)
            Factor; 1 for a spring that is not known by its dimensions [-]

        >>> from headbench.calc.springs.load_curves import stacked

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> rated = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> SpringCurves(rated).surge_factor(np.array([0]), np.array([0.038])).tolist()
        [1.0]
        """
        factor = np.ones(len(which))
        for rows, spring in self._dimensioned_in(which):
            factor[rows] = surge_factor(spring, height[rows])
        return factor

    def _fitted_only(self, which: IntArray) -> IntArray:
        return np.where(which < len(self.fitted.knots), which, -1)

    def _dimensioned_in(self, which: IntArray) -> Iterator[tuple[IntArray, DimensionedSpring]]:
        first = len(self.fitted.knots)
        for place in np.unique(which[which >= first]).tolist():
            yield np.flatnonzero(which == place), self.dimensioned[place - first]
