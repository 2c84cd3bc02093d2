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
