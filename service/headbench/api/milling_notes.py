"""Milling notes: what else moves or no longer meets, and the order of work where a cut cannot be put back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from headbench.api.findings import Note, note
from headbench.api.milled import Movement
from headbench.api.quantities import say, shows
from headbench.calc import FloatArray
from headbench.units import Scales

ORDER_OF_WORK: Final = (
    "Metal does not go back on. Measure everything first; mock it up with the gasket that will be used; take less than "
    "the number says; measure and mock up again before the next cut."
)


def order_of_work(pointer: str) -> Note:
    """What to keep to where a cut cannot be put back."""
    return note("order_of_work", pointer, ORDER_OF_WORK)


def milling_notes(movement: Movement, quench: FloatArray, scales: Scales) -> Iterator[Note]:
    """What a shop should look at once this comes off; nothing where nothing does."""

    def length(value: float) -> str:
        return say(value, "length", scales)

    if not movement.nothing_cut or movement.block_decked > 0.0:
        yield order_of_work("/cut")
        detail = (
            "The dowel holes in the head are shallower by the cut, and the dowels stand prouder by what comes off the "
            "block: check that no dowel holds the head off its gasket."
        )
        yield note("dowels", "/cut", detail)
    known = quench[~np.isnan(quench)]
    if not movement.nothing_cut and len(known):
        least, most = length(float(known.min())), length(float(known.max()))
        quenches = least if least == most else f"{least} to {most}"
        detail = f"The cut on the head's own deck leaves the quench alone: it is {quenches} by block and gasket."
        yield note("quench_stays", "/cut", detail)
    approaches = movement.known_approaches
    if not any(shows(abs(approach), "length", scales) for approach in approaches):
        return
    how_far = length(abs(approaches[0])) if movement.flat else "the net approach at each place"
    if max(approaches) <= 0.0:
        away = how_far if movement.flat else f"up to {length(-min(approaches))}"
        detail = f"The head comes {away} away from the crank: covers that span head and block no longer meet."
        yield note("end_covers", "/gasket_change", detail)
        return
    yield note("bolts_bottom", "/cut", f"Head bolts reach deeper by {how_far}: check that none bottoms.")
    detail = f"Covers that span head and block stand proud by {how_far}: trim them, or they do not seal."
    yield note("end_covers", "/cut", detail)
    detail = f"The exhaust ports come down by {how_far}: check manifold, pipes and what they clear."
    yield note("exhaust_alignment", "/cut", detail)
    leaning = "" if movement.flat else " and lean with the deck: shim the cover or cut the rail true"
    detail = f"The valve-cover rails come down by {how_far}{leaning}; check what stands near."
    yield note("cover_rails", "/cut", detail)
