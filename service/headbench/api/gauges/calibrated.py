"""Calibrated: readings far outside what a scale, a tester or a rocker ratio was checked at, or below nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

import msgspec

from headbench.api.gauges.scale import OnScale
from headbench.api.gauges.tester import Tester, pairs_of
from headbench.api.gauges.tester_readings import Reading
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say

FAR: Final = 0.5
"""Share of what was checked by which a reading may stand outside it; common practice, no source [-]."""

_LOADED: Final = {"scale": "weight", "tester": "load"}


def scale_notes(on_bench: OnScale) -> Iterator[Note]:
    """Masses far outside the known weights, and those the correction leaves nothing of."""
    for pointer, _, shown, true in on_bench.below_nothing:
        detail = (
            f"The scale's correction turns {say(shown, 'mass')} into {say(true, 'mass')}; left out. "
            "Check the scale near that weight."
        )
        yield note("corrected_below_zero", pointer, detail)
    if on_bench.indicated:
        yield from _far_outside(on_bench.indicated, on_bench.masses, "scale", "mass")


def tester_notes(tester: Tester | None, springs: Sequence[msgspec.Struct]) -> Iterator[Note]:
    """Loads far outside the known ones."""
    if tester is not None:
        indicated, _ = pairs_of(tester.calibration)
        yield from _far_outside(indicated, list(_loads_in(springs)), "tester", "force")


def _loads_in(part: Any) -> Iterator[float]:
    """Every load that was read on the tester."""
    if isinstance(part, Reading):
        yield part.load
    elif isinstance(part, list):
        for item in part:
            yield from _loads_in(item)
    elif isinstance(part, msgspec.Struct):
        for name in part.__struct_fields__:
            yield from _loads_in(getattr(part, name))


def _far_outside(known: Sequence[float], read: Sequence[float], tool: str, quantity: str) -> Iterator[Note]:
    # one known point makes a line with nothing, which is known too
    low, high = (0.0 if len(known) == 1 else min(known)), max(known)
    far = [one for one in read if _outside(one, low, high) > FAR * (high - low)]
    if far:
        farthest = max(far, key=lambda one: _outside(one, low, high))
        shown, least, most = (say(value, quantity) for value in (farthest, low, high))
        detail = (
            f"The {tool} was checked from {least} to {most}; readings are far outside that ({len(far)}), the "
            f"farthest at {shown}. The correction is extrapolated; check the {tool} at that {_LOADED[tool]}."
        )
        yield note("beyond_calibration", f"/{tool}/calibration", detail)


def _outside(one: float, low: float, high: float) -> float:
    return max(one - high, low - one)
