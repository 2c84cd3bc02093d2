"""Lifters: the range of preload they want, as it was entered or as their plunger travel allows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated

from msgspec import Meta

from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Model, PositiveLength, SignedLength, number_of
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default, in_both_units
from headbench.calc.judging.limits import PRELOAD_MAXIMUM, PRELOAD_MINIMUM, STOCK_STEP
from headbench.calc.judging.rules import PLUNGER_RESERVE
from headbench.calc.pushrods import pushrods as calc
from headbench.calc.pushrods.lifter_preload import least_preload, most_preload
from headbench.errors import Pointed


class Lifters(Model, kw_only=True, frozen=True):
    """What the lifters want, and the lengths that pushrods are kept in."""

    plunger_travel: Annotated[
        PositiveLength | None,
        Meta(
            description="Travel of a hydraulic lifter's plunger, from its clip to the bottom; maximum preload is "
            f"{in_both_units(PLUNGER_RESERVE.values[0])} less, or a third less where that leaves more. Null = not "
            "measured.",
            examples=[0.150],
        ),
    ] = None
    preload_minimum: Annotated[
        SignedLength | None,
        by_default(
            PRELOAD_MINIMUM,
            "Minimum preload; negative for a solid lifter's lash. A third of plunger_travel where that is less, and "
            "never above the maximum or target entered.",
        ),
    ] = None
    preload_maximum: Annotated[
        SignedLength | None,
        by_default(
            PRELOAD_MAXIMUM,
            "Maximum preload; negative for a solid lifter's least lash. Where plunger_travel is given, that less "
            f"{in_both_units(PLUNGER_RESERVE.values[0])}, or less a third where that leaves more; never below the "
            "minimum or target entered.",
        ),
    ] = None
    target_preload: Annotated[
        SignedLength | None,
        Meta(
            description="Preload to aim for. Null = the middle of the range, and a pushrod in range stays.",
            examples=[0.035],
        ),
    ] = None
    stock_step: Annotated[PositiveLength | None, by_default(STOCK_STEP, "Step between pushrod lengths in stock.")] = (
        None
    )


def lifters_of(lifters: Lifters) -> calc.Lifters:
    """What the lifters want."""
    return calc.Lifters(
        plunger_travel=number_of(lifters.plunger_travel),
        preload_minimum=number_of(lifters.preload_minimum),
        preload_maximum=number_of(lifters.preload_maximum),
        target_preload=number_of(lifters.target_preload),
        stock_step=STOCK_STEP.value if lifters.stock_step is None else lifters.stock_step,
    )


def lifter_faults(lifters: Lifters, prefix: str) -> Iterator[Pointed]:
    """Entered values that contradict each other."""

    def length(value: float) -> str:
        return say(value, "length")

    wants = lifters_of(lifters)
    minimum, maximum = wants.preload_range
    bottoms = {
        "preload_minimum": ("minimum", wants.preload_minimum),
        "preload_maximum": ("maximum", wants.preload_maximum),
        "target_preload": ("wanted", wants.target_preload),
    }
    bottomed = [field for field, (_, value) in bottoms.items() if value >= wants.plunger_travel]
    for field in bottomed:
        which, value = bottoms[field]
        detail = (
            f"{which} preload {length(value)} bottoms a plunger that travels {length(wants.plunger_travel)}; enter less"
        )
        yield Pointed(f"{prefix}/{field}", detail)
    if bottomed:
        return
    if minimum > maximum:
        detail = f"maximum preload {length(maximum)} is below minimum {length(minimum)}"
        yield Pointed(f"{prefix}/preload_maximum", detail)
    elif lifters.target_preload is not None and not minimum <= wants.target_preload <= maximum:
        detail = (
            f"wanted preload {length(wants.target_preload)} is outside its range, {length(minimum)} to "
            f"{length(maximum)}; correct one of them"
        )
        yield Pointed(f"{prefix}/target_preload", detail)


def range_notes(lifters: Lifters) -> Iterator[Note]:
    """That a default range has given way to what was entered."""
    wants = lifters_of(lifters)
    minimum, maximum = wants.preload_range
    most = wants.plunger_travel - PLUNGER_RESERVE.values[0]
    usual = least_preload(math.nan), most_preload(math.nan) if lifters.plunger_travel is None else most
    gave_way = [
        entered is None and used != default
        for entered, used, default in zip(
            (lifters.preload_minimum, lifters.preload_maximum), (minimum, maximum), usual, strict=True
        )
    ]
    if not any(gave_way):
        return
    ends = (minimum, maximum) if maximum > 0.0 else (-maximum, -minimum)
    low, high = (say(value, "length") for value in ends)
    lash = "" if maximum > 0.0 else " of lash"
    missing = " and ".join(
        name for name, gave in zip(("preload_minimum", "preload_maximum"), gave_way, strict=True) if gave
    )
    detail = (
        f"The default preload range gives way to what was entered for these lifters: {low} to {high}{lash} is taken. "
        f"Enter their maker's {missing}."
    )
    yield note("preload_range_fitted", "/lifters", detail)
