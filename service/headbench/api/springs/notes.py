"""Spring notes: what is to be said of how springs were read, and of what is only estimated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headbench.api.gauges.repeats import Repeated, are_apart, height_repeats, slipped
from headbench.api.springs.dimensions import DimensionedCurve
from headbench.api.springs.load_curves import RatedCurve
from headbench.api.springs.spring import Spring, each_spring
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.positions import measure_again
from headbench.calc.coils.motion import BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT


def coil_bind_repeats(springs: Sequence[Spring], used: set[str]) -> Iterator[Note]:
    """The range of coil-bind heights that were read more than once."""
    readings = [
        Repeated(f"{pointer}/coil_bind_height", named(spring.id, pointer), one.coil_bind_height)
        for spring, pointer, one in each_spring(springs)
        if spring.id in used and isinstance(one.coil_bind_height, list)
    ]
    yield from height_repeats("coil-bind height", readings, tallest_where_they_disagree=True)


def open_binds_again(springs: Sequence[Spring], used: set[str], needed_for: list[str]) -> Iterator[OpenItem]:
    """Coil-bind heights to be read again: those that cannot be right, and those whose repeats disagree.

    The first count as not read; of the others the tallest counts, and is not accepted.
    """
    for spring, pointer, one in each_spring(springs):
        odd = slipped(one.coil_bind_height, POSSIBLE_COIL_BIND_HEIGHT)
        if spring.id not in used or (odd is None and not are_apart(one.coil_bind_height)):
            continue
        again = (
            "its coil-bind readings disagree; press it again."
            if odd is None
            else measure_again("its coil-bind height", odd)
        )
        yield OpenItem(
            pointer=f"{pointer}/coil_bind_height",
            position=None,
            spring=spring.id,
            needed_for=needed_for,
            detail=f"{named(spring.id, pointer)}: {again}",
        )


def share_notes(springs: Sequence[Spring], used: set[str]) -> Iterator[Note]:
    """Springs whose moving share is an estimate."""
    beehives = [
        (pointer, named(spring.id, pointer))
        for spring, pointer, one in each_spring(springs)
        if spring.id in used and one.spring_shape == "beehive"
    ]
    if beehives:
        low, high = BEEHIVE_SHARE - BEEHIVE_SHARE_WITHIN, BEEHIVE_SHARE + BEEHIVE_SHARE_WITHIN
        which = ", ".join(name for _, name in beehives)
        detail = (
            f"{which}: moving mass counts {BEEHIVE_SHARE:g} of the working coils, an estimate for a beehive, "
            f"{low:.2f} to {high:.2f}. Enter its dimensions for the exact share."
        )
        yield note("share_estimated", f"{beehives[0][0]}/spring_shape", detail)


def known_by_notes(springs: Sequence[Spring], used: set[str]) -> Iterator[Note]:
    """Loads that are known, but were not tested."""
    for spring, pointer, one in each_spring(springs):
        if spring.id not in used:
            continue
        if isinstance(one.load_curve, RatedCurve):
            detail = f"{named(spring.id, pointer)}: load is the catalog rating; it was not tested."
            yield note("known_by_rating", f"{pointer}/load_curve", detail)
        if isinstance(one.load_curve, DimensionedCurve):
            detail = (
                f"{named(spring.id, pointer)}: load is calculated from its dimensions; real springs differ. Test it."
            )
            yield note("known_by_dimensions", f"{pointer}/load_curve", detail)
