"""Ratio notes: bores and compression ratios that no engine of this bench has, and the slip that makes them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headbench.api.cylinders.cylinder import Cylinder
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say, say_ratios, unit_said
from headbench.calc.judging.rules import USUAL_BORE, USUAL_RATIO


def ratio_notes(cylinder: Cylinder, ratios: Sequence[tuple[str, float]]) -> Iterator[Note]:
    """What to check of a bore, and of every chamber's static ratio (id, ratio), outside what is usual."""
    yield from _unusual_bore(cylinder)
    low, high = USUAL_RATIO.values
    for place, (chamber, ratio) in enumerate(ratios):
        if not (ratio < low or ratio > high):
            continue
        usual = " to ".join(say_ratios(low, high))
        volume = unit_said("volume")
        other = "in3" if volume == "cm3" else "cm3"
        slips = {True: ("cm3", "in3"), False: ("in3", "cm3")}
        meant, written = slips[ratio < low]
        # a volume in the smaller unit is too large a number for the larger one, and the other way round
        slip = (
            f"is a volume in {meant} entered under {written}"
            if written == volume
            else f"are the lengths in {unit_said('length')} and every volume in {volume}, not {other}"
        )
        detail = (
            f"Chamber {chamber}: a static ratio of {say_ratios(ratio)[0]} is outside the usual {usual}. Check bore, "
            f"stroke, chamber volume and their units: {slip}?"
        )
        yield note("unusual_reading", f"/chambers/{place}/chamber_volume", detail)


def _unusual_bore(cylinder: Cylinder) -> Iterator[Note]:
    """A bore outside what is usual; a slip of the unit is the usual reason."""
    if cylinder.bore is None:
        return
    bore = cylinder.bore
    low, high = USUAL_BORE.values
    if low <= bore <= high:
        return
    unit, other = ("in", "mm") if unit_said("length") == "in" else ("mm", "in")
    slip = f" Is it in {other} while units.length is {unit}?" if (bore > high) == (unit == "in") else ""
    detail = (
        f"Bore {say(bore, 'length')}: {say(low, 'length')} to {say(high, 'length')} is usual. "
        f"Check it and its unit.{slip}"
    )
    yield note("unusual_reading", "/cylinder/bore", detail)
