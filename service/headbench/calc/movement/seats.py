"""Seats: how much deeper a valve sits once its seat was ground, or cut anew."""

from __future__ import annotations

import math
from dataclasses import dataclass

from headbench.calc.judging.alike import N, cos


def sink_of_ground_seat(seat_ground: N, seat_angle: N | float) -> N:
    """How deep grinding a seat sinks its valve, s = t/cos(seat angle).

    Parameters
    ----------
    seat_ground : float or array (V,)
        What came off the seat, square to its face t [m]
    seat_angle : float or array (V,)
        Seat's face from the plane of the valve's head, below 90 degrees [rad]

    Returns
    -------
    float or array (V,)
        Sink s [m]

    Notes
    -----
    The same serves for metal taken off the valve's own face. Own derivation.

    >>> round(sink_of_ground_seat(0.25e-3, math.radians(60.0)) * 1e3, 9)
    0.5
    """
    return seat_ground / cos(seat_angle)


@dataclass(frozen=True, slots=True)
class Seat:
    """What was done to the seat of one valve; nothing unless something is said.

    ground : float, what came off the seat, square to its face [m]
    angle : float, of its face from the plane of the valve's head, below 90 degrees [rad]
    sink : float, how much deeper the valve sits, as it was measured, negative where it stands prouder; NaN where it
        was not, so that the ground tells [m]
    """

    ground: float = 0.0
    angle: float = math.radians(45.0)
    sink: float = math.nan

    @property
    def moved(self) -> bool:
        """Whether the valve sits otherwise than before."""
        return self.sunk != 0.0

    @property
    def sunk(self) -> float:
        """How much deeper the valve sits [m]."""
        return sink_of_ground_seat(self.ground, self.angle) if math.isnan(self.sink) else self.sink
