"""Load target: what a load should come to, and a load held against it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from headbench.calc.judging.verdicts import Verdict, at_least

_NAN: Final = math.nan
_ACCEPT, _NOT_MEASURED = int(Verdict.ACCEPT), int(Verdict.NOT_MEASURED)


@dataclass(frozen=True, slots=True)
class LoadTarget:
    """What a load should come to; NaN where nothing is wanted, one end NaN where only the other is.

    aim : float, the load wanted; of a range its middle, or its only end [N]
    low, high : float, least and most that is good [N]
    """

    aim: float = _NAN
    low: float = _NAN
    high: float = _NAN

    @property
    def is_set(self) -> bool:
        """Whether anything is wanted."""
        return not math.isnan(self.aim)

    @property
    def bounded(self) -> bool:
        """Whether both ends are given: a load that has only one says nothing of a height."""
        return not math.isnan(self.low + self.high)

    def deviation(self, load: float) -> float:
        """What a load is off its aim, 100 (F/aim - 1).

        Parameters
        ----------
        load : float
            Load, NaN not known [N]

        Returns
        -------
        float
            Deviation [percent]

        >>> round(LoadTarget(500.0, 475.0, 525.0).deviation(490.0), 9)
        -2.0
        """
        return 100.0 * (load / self.aim - 1.0)

    def verdict(self, load: float) -> int:
        """Plain comparison of a load with both ends.

        Parameters
        ----------
        load : float
            Load, NaN not known [N]

        Returns
        -------
        Verdict code
            NOT_MEASURED where the load or the aim is not known [-]

        >>> LoadTarget(500.0, 475.0).verdict(470.0), LoadTarget(500.0).verdict(470.0)
        (3, 0)
        """
        if math.isnan(load) or math.isnan(self.aim):
            return _NOT_MEASURED
        reached = _ACCEPT if math.isnan(self.low) else at_least(load, self.low)
        kept = _ACCEPT if math.isnan(self.high) else at_least(-load, -self.high)
        return max(reached, kept)
