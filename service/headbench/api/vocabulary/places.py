"""Places on a head, as every description names them."""

from __future__ import annotations

from typing import Final

ACROSS: Final = (
    "Measured across the head, square to the row of cylinders, from the deck's edge opposite the intake face toward "
    "the intake face. Only an angle cut needs it; null = not measured."
)
"""Where a place on the deck is, in every description of it."""


ASIDE: Final = (
    "Positive from this head toward the other, which with the left head as this one is to the right; negative the "
    "other way. Null = not measured."
)
"""Which way a manifold goes aside, in every description of it."""


MISSING: Final = (
    "Metal that is not there, at the corner shortest of it: how far the face would have to be built up for ports in "
    "line. 0 = none, never negative; milling can't fix it. Null = not measured."
)
"""What a face is short of, in every description of it."""
