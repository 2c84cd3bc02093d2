"""Pistons: how near they come to the valves."""

from headbench.calc.pistons.clearances import ClearanceLeft, ValveOverPiston, clearances_left, usual_minimum

__all__ = [
    "ClearanceLeft",
    "ValveOverPiston",
    "clearances_left",
    "usual_minimum",
]
