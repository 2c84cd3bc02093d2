"""Movement: how far head, deck and valves go when metal comes off."""

from headbench.calc.movement.movement import Movement, slope_between, slope_of_tilt
from headbench.calc.movement.seats import Seat

__all__ = [
    "Movement",
    "Seat",
    "slope_between",
    "slope_of_tilt",
]
