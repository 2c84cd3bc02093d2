"""Calibrated: readings far outside what a scale, a tester or a rocker ratio was checked at, or below nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import msgspec
import numpy as np

from headbench.api.gauges.scale import KNOWN_WEIGHTS, Scale, below_nothing, masses_in
from headbench.api.gauges.tester import KNOWN_LOADS, Tester
from headbench.api.gauges.tester_readings import Reading
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say
from headbench.calc import FloatArray

FAR: Final = 0.5
"""Share of what was checked by which a reading may stand outside it; common practice, no source [-]."""

_LOADED: Final = {"scale": "weight", "tester": "load"}


def scale_notes(scale: Scale | None, weighed: Mapping[str, Any]) -> Iterator[Note]:
    """Masses far outside the known weights, and those the correction leaves nothing of; `weighed` is `on_scale`'s."""
    if scale is None:
        return
    for pointer, shown, true in below_nothing(scale, weighed):
        detail = (
            f"The scale's correction turns {say(shown, 'mass')} into {say(true, 'mass')}; left out. "
            "Check the scale near that weight."
        )
        yield note("corrected_below_zero", pointer, detail)
    known = KNOWN_WEIGHTS.of(scale.calibration)["indicated"]
    mass = np.array([value for part in weighed.values() for _, value in masses_in(part, "") if value > 0.0])
    yield from _far_outside(known, mass, "scale", "mass")


def tester_notes(tester: Tester | None, springs: Sequence[msgspec.Struct]) -> Iterator[Note]:
    """Loads far outside the known ones."""
    if tester is not None:
        known = KNOWN_LOADS.of(tester.calibration)["indicated"]
        load = np.array(list(_loads_in(springs)))
        yield from _far_outside(known, load, "tester", "force")


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


def _far_outside(known: FloatArray, read: FloatArray, tool: str, quantity: str) -> Iterator[Note]:
    # one known point makes a line with nothing, which is known too
    low, high = (0.0 if len(known) == 1 else float(known.min())), float(known.max())
    outside = np.maximum(read - high, low - read)
    far = np.flatnonzero(outside > FAR * (high - low))
    if len(far):
        farthest = float(read[outside.argmax()])
        shown, least, most = (say(value, quantity) for value in (farthest, low, high))
        detail = (
            f"The {tool} was checked from {least} to {most}; readings are far outside that ({len(far)}), the "
            f"farthest at {shown}. The correction is extrapolated; check the {tool} at that {_LOADED[tool]}."
        )
        yield note("beyond_calibration", f"/{tool}/calibration", detail)
