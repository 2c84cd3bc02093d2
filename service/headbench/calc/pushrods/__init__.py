"""Pushrods: lengths, and the preload of hydraulic lifters."""

from headbench.calc.pushrods.pushrods import Adjuster, Lifters, Pushrod, PushrodAfter, PushrodsAfter, pushrods_after

__all__ = [
    "Adjuster",
    "Lifters",
    "Pushrod",
    "PushrodAfter",
    "PushrodsAfter",
    "pushrods_after",
]
