"""Rocker ratios: lobes that lift far higher than theirs was read."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from headbench.api.gauges.calibrated import FAR
from headbench.api.train.valvetrain import Valvetrain, highest_lift, lift_of, path_of
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.saying import say

_LINE_TAKES: Final = 2
"""Points that make a line to carry on."""


def ratio_notes(valvetrain: Valvetrain) -> Iterator[Note]:
    """Lobes that lift far higher than their rocker ratio was read."""
    for kind in KINDS:
        lift = lift_of(kind, valvetrain)
        at = path_of(lift).at_lobe_lift
        full = highest_lift(lift)
        if len(at) >= _LINE_TAKES and full - at[-1] > FAR * (at[-1] - at[0]):
            low, high, top = (say(float(value), "length") for value in (at[0], at[-1], full))
            detail = (
                f"The {kind} rocker ratio was measured from {low} to {high} of lobe lift; from there to {top} it is "
                "extrapolated. Measure it up to full lift."
            )
            yield note("beyond_calibration", f"/valvetrain/{kind}/rocker_ratios", detail)
