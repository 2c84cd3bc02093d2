"""Milling notes: what else moves or no longer fits, and the order of work where a cut cannot be put back."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headbench.api.cylinders.chambers import MilledChamber
from headbench.api.cylinders.cylinder import Cylinder
from headbench.api.movement.moved import order_of_work
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import in_places, say, scales_said, shows
from headbench.calc.judging.rules import USUAL_CUT
from headbench.calc.movement.movement import Movement


def milling_notes(movement: Movement, quench: Sequence[float]) -> Iterator[Note]:
    """What a shop should look at once this comes off; nothing where nothing does."""

    def length(value: float) -> str:
        return say(value, "length")

    if not movement.nothing_cut or movement.block_decked > 0.0:
        yield from _unusual_cut(movement)
        yield order_of_work("/cut")
        shallower = [] if movement.nothing_cut else [f"dowel holes in the head are {_cut(movement)} shallower"]
        prouder = [f"dowels stand {length(movement.block_decked)} prouder"] if movement.block_decked > 0.0 else []
        detail = " and ".join([*shallower, *prouder])
        detail = f"{detail[0].upper()}{detail[1:]}: check that none holds the head off its gasket."
        detail += _deepest(movement, movement.known_depths)
        yield note("dowels", "/cut", detail)
    if not movement.flat:
        tilt = say(abs(movement.tilt), "angle")
        detail = (
            f"Bolt seats now stand {tilt} off square to the bolts: spot-face them square to the new deck, and check "
            "that bolts and dowels pass the head freely."
        )
        yield note("bolt_seats_not_square", "/cut", detail)
    known = [one for one in quench if not math.isnan(one)]
    if not movement.nothing_cut and known:
        quenches = _from_to(min(known), max(known))
        detail = f"Cutting the head doesn't change quench: {quenches}, by piston, block and gasket."
        yield note("quench_stays", "/cut", detail)
    yield from _dropped(movement)


def _unusual_cut(movement: Movement) -> Iterator[Note]:
    """A cut that no bench takes; a slip of the unit is the usual reason."""
    (most,) = USUAL_CUT.values
    deepest = max(movement.known_depths)
    if deepest > most:
        detail = f"Cut of {say(deepest, 'length')}: up to {say(most, 'length')} is usual. Check the depth and its unit."
        yield note("unusual_reading", "/cut", detail)


def dome_notes(movement: Movement, cylinder: Cylinder) -> Iterator[Note]:
    """That a dome comes nearer to its chamber as the head drops."""
    drop = max(movement.known_drops)
    if cylinder.dome_volume > 0.0 and drop > 0.0 and shows(drop, "length"):
        nearer = f"{'' if movement.flat else 'up to '}{say(drop, 'length')}"
        detail = (
            f"Domed pistons: the dome comes {nearer} closer to the chamber and the spark plug. Check with clay, and "
            "trim the dome where it is too close."
        )
        yield note("dome_closer", "/cylinder/dome_volume", detail)


def _cut(movement: Movement) -> str:
    depths = movement.known_depths
    return f"{'' if movement.flat else 'up to '}{say(max(depths), 'length')}"


def _deepest(movement: Movement, amounts: list[float]) -> str:
    """Where an angle cut takes most of what the job knows, by the amounts [m] at its places, and that it goes on."""
    if movement.flat:
        return ""
    most, place = max(zip(amounts, movement.known_places, strict=True))
    where = "the deck's edge opposite the intake face" if place <= 0.0 else f"{say(place, 'length')} across"
    it_is = f" It is {say(most, 'length')} at {where}"
    if movement.tilt < 0.0:
        return f"{it_is}, the most there is."
    return f"{it_is} and more beyond: an angle cut goes on deepening toward the intake face."


def _from_to(least: float, most: float) -> str:
    """Two lengths [m] with their unit once, or one where a sentence shows no difference."""
    scale = scales_said()["length"]
    low, high = (in_places(scale.from_si(value), scale.unit) for value in (least, most))
    return f"{high} {scale.unit}" if low == high else f"{low} to {high} {scale.unit}"


def _dropped(movement: Movement) -> Iterator[Note]:
    """What a head that drops, or rises, no longer fits."""

    def length(value: float) -> str:
        return say(value, "length")

    drops = movement.known_drops
    if not any(shows(abs(drop), "length") for drop in drops):
        return
    if max(drops) <= 0.0:
        up = length(-drops[0]) if movement.flat else f"up to {length(-min(drops))}"
        detail = (
            f"The head sits {up} higher: covers that seal to head and block no longer reach both. Fit gaskets or "
            f"spacers thicker by as much."
        )
        yield note("end_covers", "/gasket_thickness_change", detail)
        return
    # an angle cut drops the head by another amount at every place; those that the job knows are told
    by = _from_to(max(min(drops), 0.0), max(drops))
    deeper = f"Head bolts go {by} deeper; check none bottoms out.{_deepest(movement, drops)}"
    yield note("bolts_bottom", "/cut", deeper)
    detail = f"A front cover that seals to both head and block is now {by} too tall; trim it."
    yield note("end_covers", "/cut", detail)
    detail = f"Exhaust ports drop {by}: check manifold, pipes and what they clear."
    yield note("exhaust_alignment", "/cut", detail)
    leaning = "" if movement.flat else ", and lean with the deck: shim the cover or mill the rail true"
    detail = f"Valve-cover rails drop {by}{leaning}. Check what bolts to them and clearance around the covers."
    yield note("cover_rails", "/cut", detail)


def thickness_elsewhere(
    movement: Movement, chambers: Sequence[MilledChamber], depths: Sequence[float]
) -> Iterator[Note]:
    """That an angle cut goes deeper at a place it names than where the head's thickness is held against its minimum."""
    measured = [at for chamber, at in zip(chambers, depths, strict=True) if chamber.head_thickness is not None]
    judged = [at for at in measured if not math.isnan(at)]
    if movement.flat or not judged:
        return
    more = max(movement.known_depths) - max(judged)
    if shows(more, "length") and more > 0.0:
        detail = (
            f"Head thickness is checked at the chambers' middles; the deep side of the angle cut loses at least "
            f"{say(more, 'length')} more. Measure thickness there too, and "
            "enter it under chambers with its distance across."
        )
        yield note("thickness_elsewhere", "/cut", detail)
